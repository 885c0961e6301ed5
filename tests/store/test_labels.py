"""Names as they are shown: nothing that plays tricks on a terminal, and each once."""

import pytest

from sheetgen.store.labels import climbs, label_of, steps_of, unique_label

# steps, label
LABELS = (
    (["Ada", "sheet.xlsx"], "Ada/sheet.xlsx"),
    (["A\u0308da.xlsx"], "Äda.xlsx"),
    (["..", "..", "s.xlsx"], "../../s.xlsx"),
    (["a\nb\x1b[2J.xlsx"], "a?b?[2J.xlsx"),
    (["\u202exslx.fdp"], "?xslx.fdp"),
    (["\udcff.xlsx"], "?.xlsx"),
    (["גיליון.xlsx"], "גיליון.xlsx"),
    (["نیم\u200cفاصله.xlsx"], "نیم\u200cفاصله.xlsx"),
    (["x" * 300 + ".xlsx"], "x" * 40 + "…" + "x" * 15 + ".xlsx"),
    (["x" * 60 + "\u0323\u0301" * 30_000 + "y" * 20], "x" * 40 + "…" + "y" * 20),
)


@pytest.mark.parametrize(("steps", "label"), LABELS)
def test_label_of(steps: list[str], label: str) -> None:
    assert label_of(steps) == label


def test_steps_of_takes_either_slash_and_keeps_the_way_up() -> None:
    assert steps_of("/a\\b//./../c.xlsx") == ("a", "b", "..", "c.xlsx")


def test_climbs_only_where_a_step_leads_up_or_the_name_begins_at_the_top() -> None:
    assert [climbs(name) for name in ("a..b/c", "a/..", "\\a", "c:a", "a/c:b")] == [
        False,
        True,
        True,
        True,
        False,
    ]


def test_unique_label_numbers_before_the_ending_and_not_in_a_folder() -> None:
    taken = {"v1.2/sheet": 1, "a.xlsx": 1}
    assert unique_label("v1.2/sheet", taken) == "v1.2/sheet [2]"
    assert unique_label("a.xlsx", taken) == "a [2].xlsx"


class _Counting(dict[str, int]):
    """Counts how often it is asked whether a label is taken."""

    asked = 0

    def __contains__(self, label: object) -> bool:
        self.asked += 1
        return super().__contains__(label)


def test_unique_label_asks_no_more_for_the_last_of_many_of_one_name() -> None:
    taken = _Counting()
    labels = [unique_label("a.xlsx", taken) for _ in range(1_000)]
    assert len(set(labels)) == 1_000
    assert labels[-1] == "a [1000].xlsx"
    assert taken.asked == 1_999


def test_unique_label_steps_over_a_number_that_a_name_had_of_itself() -> None:
    taken: dict[str, int] = {}
    names = ("a [2].xlsx", "a.xlsx", "a.xlsx", "a [2].xlsx", "a.xlsx")
    assert [unique_label(name, taken) for name in names] == [
        "a [2].xlsx",
        "a.xlsx",
        "a [3].xlsx",
        "a [2] [2].xlsx",
        "a [4].xlsx",
    ]
