import pytest

from sheetgen.layout.class_book_tabs import setting_rule
from tests.class_books import layout, protocols, texts


def test_rules_keep_the_limits_of_the_file_format() -> None:
    for tab in layout().tabs:
        for cell in tab.cells:
            if cell.rule is not None:
                sizes = (cell.rule.title, cell.rule.prompt, cell.rule.error, cell.rule.formula)
                assert all(map(len, sizes[:3]))
                assert len(cell.rule.title) <= 32
                assert max(map(len, sizes)) <= 255
                assert len(",".join(cell.rule.words)) <= 255


@pytest.mark.parametrize(
    ("name", "kind", "words"),
    [
        ("class_title", "length", ()),
        ("protocol", "list", tuple(protocol.identifier for protocol in protocols())),
        ("site_rule", "list", ("median", "closest-pair")),
        ("tolerance_kind", "list", ("mm", "percent")),
        ("tolerance", "decimal", ()),
        ("conversion", "list", ("siri", "brozek")),
        ("show_results", "list", ("always", "after-working", "never")),
        ("minors", "list", ("some", "none", "all")),
        ("estimates", "list", ("on", "sums-only")),
        ("youth_estimate", "list", ("off", "on")),
        ("due_date", "length", ()),
        ("feedback_given", "length", ()),
        ("declared", "length", ()),
        ("group_size", "whole", ()),
        ("demonstration", "length", ()),
        ("seconds_a_reading", "decimal", ()),
        ("spare_sheets", "whole", ()),
        ("cover_round_1", "list", ("no", "yes")),
    ],
)
def test_setting_rule(name: str, kind: str, words: tuple[str, ...]) -> None:
    rule = setting_rule(name, texts(), protocols())
    assert rule.kind == kind
    assert rule.words[: len(words)] == words


def test_rules_of_under_18_and_of_a_protocol_for_a_pair_are_lists() -> None:
    words = {
        cell.name: cell.rule.words for tab in layout().tabs for cell in tab.cells if cell.rule is not None
    }
    assert words["roster_1_under_18"] == ("yes", "no")
    assert words["roster_1_takes_part"] == ("both", "measures-only")
    assert words["roster_1_status"] == ("left",)
    assert words["pair_1_protocol"] == tuple(protocol.identifier for protocol in protocols())


def test_setting_rule_of_the_youth_estimate_says_what_it_means() -> None:
    prompt = setting_rule("youth_estimate", texts(), protocols()).prompt
    assert "the school's and the parents' agreement" in prompt


def test_caliper_rule_of_the_scale_step_is_no_list() -> None:
    """Where a comma is the decimal sign, choosing 0.5 from a list would enter a text."""
    cell = next(cell for cell in layout().tab("calipers").cells if cell.name == "caliper_1_division")
    assert cell.rule is not None
    assert cell.rule.formula == "=OR($C$6=1,$C$6=0.5,$C$6=0.2,$C$6=0.1)"
