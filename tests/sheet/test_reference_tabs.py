"""The tabs Sites and About; which figure a site gets, and what is said about it."""

from operator import attrgetter
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError, TemplateError
from sheetgen.protocols.protocol import Site
from sheetgen.protocols.settings import BuiltWith
from sheetgen.sheet import reference_tabs as figures
from sheetgen.sheet.heading import wrapped_lines
from sheetgen.sheet.reference_tabs import large_image, small_image
from sheetgen.sheet.student import LAYOUT_VERSION, all_protocols, layout_of
from sheetgen.sheet.working import cautions_of
from sheetgen.texts.languages import load_texts
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.cells import column_pixels
from sheetgen.workbook.layout import Image, Layout, Tab
from tests.sheet.variants import LANGUAGES, sheet_in
from tests.sheets import SETTINGS, settings_with, sheet_of

SHEET = sheet_of()
TEXTS = load_texts("en")


def _about(**changes: object) -> dict[str, list[str]]:
    """Title of a line to its texts; lines without a title belong to the one above."""
    tab = sheet_of(settings_with(**changes)).layout.tab("about")
    at = {(cell.row, cell.column): cell.value for cell in tab.cells}
    lines: dict[str, list[str]] = {}
    title = ""
    for row in range(3, max(row for row, _ in at) + 1):
        title = str(at.get((row, 0)) or title)
        lines.setdefault(title, []).append(str(at.get((row, 1))))
    return lines


def _cards(tab: Tab) -> dict[str, list[str]]:
    """Title of a card to the texts below it, in the order of the circuit."""
    texts: dict[tuple[int, int], list[str]] = {}
    starts = sorted({cell.row for cell in tab.cells if cell.format == "card_title"})
    for cell in sorted(tab.cells, key=lambda cell: (cell.row, cell.column)):
        if cell.format.startswith("card_") and cell.value:
            start = max(row for row in starts if row <= cell.row)
            texts.setdefault((start, cell.column // 3), []).append(str(cell.value))
    return {lines[0]: lines[1:] for _, lines in sorted(texts.items())}


def test_card_says_fold_where_how_and_what_goes_wrong() -> None:
    cards = _cards(SHEET.layout.tab("sites"))
    # Directions: common practice.
    assert list(cards)[:8] == [
        "Chest: diagonal fold",
        "Midaxillary: vertical fold",
        "Triceps: vertical fold",
        "Subscapular: diagonal fold",
        "Abdominal: vertical fold",
        "Suprailiac: diagonal fold",
        "Thigh: vertical fold",
        "Lifting and reading a fold",
    ]
    site = SHEET.source.protocol.sites[0]
    assert cards["Chest: diagonal fold"] == [
        f"Where: {site.landmark}",
        f"How: {' '.join(site.cues)}",
        "Watch: taken level, or too low on the line",
    ]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_site_of_every_shipped_protocol_has_its_usual_fault(language: str) -> None:
    words = {site.word for protocol in all_protocols(language=language).values() for site in protocol.sites}
    texts = load_texts(language)
    faults = {key.removeprefix("site_fault.") for key in texts if key.startswith("site_fault.")}
    assert words - faults == set()
    assert len(words) == 9
    for protocol_id in ("seven-sites", "four-sites", "youth-two-sites"):
        sheet = sheet_in(language, protocol_id=protocol_id, conversion="")
        shown = " ".join(str(cell.value) for cell in sheet.layout.tab("sites").cells)
        assert [
            site.word for site in sheet.source.protocol.sites if texts[f"site_fault.{site.word}"] not in shown
        ] == []


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("protocol_id", ["seven-sites", "four-sites"])
def test_lifting_and_reading_is_said_and_drawn_step_by_step(language: str, protocol_id: str) -> None:
    """Whether the cards above end in one or in two: below them, each step under its drawing."""
    sheet = sheet_in(language, protocol_id=protocol_id, conversion="")
    tab, texts = sheet.layout.tab("sites"), sheet.source.texts
    (title,) = (cell for cell in tab.cells if cell.value == texts["sites.lifting"])
    below = sorted((cell for cell in tab.cells if cell.row > title.row), key=attrgetter("row", "column"))
    steps = ("mark", "lift", "jaws", "hold", "read", "open")
    numbered = [f"{number}. {texts[f'lifting.{step}']}" for number, step in enumerate(steps, start=1)]
    said = [texts["lifting.ask"], *numbered, texts["lifting.springs"]]
    assert [cell.value for cell in below if cell.value] == said
    words = {cell.value: (cell.row - 1, cell.column) for cell in below}
    drawn = {image.name: image for image in tab.images if image.row > title.row}
    assert list(drawn) == [f"fold-{step}" for step in steps]
    assert [(image.row, image.column) for image in drawn.values()] == [words[text] for text in numbered]
    assert [image.alternative_text for image in drawn.values()] == [
        texts[f"figure.fold_{step}"] for step in steps
    ]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("protocol_id", sorted(all_protocols()))
def test_all_sites_are_one_printed_page_of_10_points_and_the_steps_another(
    language: str, protocol_id: str
) -> None:
    """A digit of the widest stand-in for the typeface is 8.48 px wide where a column counts 7. Between the
    margins A4 is 545 points wide and Letter 730 high, the less of both."""
    tab = sheet_in(language, protocol_id=protocol_id, conversion="").layout.tab("sites")
    wide = sum(map(column_pixels, tab.widths[:-1])) * 8.48 / 7 * 0.75
    assert 12 * tab.scale / 100 >= 10
    assert wide * tab.scale / 100 <= 545
    (end,) = tab.page_breaks
    of_sites = sum(height for row, height in tab.heights if row == 0 or tab.printed_from <= row < end)
    of_steps = sum(height for row, height in tab.heights if row == 0 or row >= end)
    assert max(of_sites, of_steps) * tab.scale / 100 <= 730
    assert {image.row >= end for image in tab.images if image.name.startswith("fold-")} == {True}


def test_figure_of_every_site_stands_in_its_card_with_words_for_it() -> None:
    tab = SHEET.layout.tab("sites")
    titles = [cell for cell in tab.cells if cell.format == "card_title" and cell.value][:7]
    sites = SHEET.source.protocol.sites
    images = [image for image in tab.images if not image.name.startswith("fold-")]
    assert [(image.row, image.column, image.name) for image in images] == [
        (cell.row, cell.column - 1, site.word) for cell, site in zip(titles, sites, strict=True)
    ]
    assert {image.column for image in images} == {0, 3}
    for image, site in zip(images, sites, strict=True):
        assert image.alternative_text.startswith(f"{site.title}. The body from ")
        assert image.alternative_text.endswith(site.landmark)


def test_sites_of_the_class_s_own_have_the_figures_that_there_are() -> None:
    protocol = SHEET.source.protocol
    own = replace(protocol.sites[0], word="front_forearm", title="Forearm")
    sites = (own, *protocol.sites[1:])
    tab = layout_of(BuiltWith(SETTINGS, replace(protocol, sites=sites), LAYOUT_VERSION)).layout.tab("sites")
    assert [text.split(":")[0] for text in _cards(tab)["Forearm: diagonal fold"]] == ["Where", "How"]
    assert [image.name for image in tab.images][:-6] == [site.word for site in sites[1:]]


def test_nine_sites_of_the_class_s_own_stand_on_one_page_too() -> None:
    protocol = SHEET.source.protocol
    more = tuple(replace(protocol.sites[0], word=f"own_{at}", title=f"Own {at}") for at in (1, 2))
    sites = (*protocol.sites, *more)
    tab = layout_of(BuiltWith(SETTINGS, replace(protocol, sites=sites), LAYOUT_VERSION)).layout.tab("sites")
    (end,) = tab.page_breaks
    of_sites = sum(height for row, height in tab.heights if row == 0 or tab.printed_from <= row < end)
    assert of_sites * tab.scale / 100 <= 730


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("protocol_id", sorted(all_protocols()))
def test_card_has_room_for_its_figure_and_its_texts(language: str, protocol_id: str) -> None:
    tab = sheet_in(language, protocol_id=protocol_id, conversion="").layout.tab("sites")
    heights = dict(tab.heights)
    for image in tab.images:
        drawn = image.name.startswith("fold-")
        high = heights[image.row] + (0 if drawn else heights[image.row + 1])
        assert high * 96 / 72 >= image.y_offset + image.height + 4
        columns = tab.widths[image.column : image.column + (2 if drawn else 1)]
        assert image.x_offset + image.width <= sum(map(column_pixels, columns))
    for cell in tab.cells:
        if cell.format in ("card_where", "card_how", "card_fault") and cell.value:
            width = (sum(map(column_pixels, tab.widths[cell.column : cell.column + cell.across])) - 5) / 7
            lines = sum(wrapped_lines(part, width, indent=1) for part in str(cell.value).split("\n"))
            # A line of 12 points is 13.97 high in the highest of the typefaces.
            assert heights[cell.row] >= 14 * lines


# settings, title of the line, its text
RULES: tuple[tuple[dict[str, object], str, str], ...] = (
    ({}, "about.tolerance", "2 mm"),
    ({"tolerance": 1.5}, "about.tolerance", "1.5 mm"),
    ({"tolerance_kind": "percent", "tolerance": 7.5}, "about.tolerance", "7.5 % of their mean"),
    ({}, "about.site_rule", "mean of two readings, the middle one of three"),
    (
        {"site_rule": "closest-pair"},
        "about.site_rule",
        "mean of two readings, or of the two closest of three; equal gaps: the middle one",
    ),
)


@pytest.mark.parametrize(("changes", "key", "text"), RULES)
def test_about_tab_prints_the_rules_of_the_class(changes: dict[str, object], key: str, text: str) -> None:
    assert _about(**changes)[SHEET.source.texts[key]] == [text]


def test_about_tab_prints_equation_range_and_source() -> None:
    equation, range_text = _about()["Equation, male, 18-61 years"]
    assert equation == "D = 1.112 - 0.00043499 S + 0.00000055 S^2 - 0.00028826 A"
    assert range_text.startswith(
        "Ages 18 to 61 years; sums 32 to 272 mm. Standard error 0.0078 g/ml, about 3.5 % fat."
    )
    assert range_text.endswith("Jackson & Pollock 1978, Br J Nutr 40:497-504.")


def test_about_tab_prints_an_equation_to_per_cent_without_a_density() -> None:
    """The error of a cross-validation: Janz 1993, n = 122; the equation: Slaughter et al. 1988."""
    about = _about(protocol_id="youth-two-sites")
    equation, range_text = about["Equation, male, 8-17 years"]
    assert equation == "fat % = 1.0 + 0.735 S"
    assert range_text.startswith(
        "Ages 8 to 17 years; no published range of the sum. Standard error about 4.6 % fat. Children"
    )
    assert "Density to fat" not in about


# settings, why there is no estimate
REASONS: tuple[tuple[dict[str, object], str], ...] = (
    ({"under_18": True}, "no estimate under 18, and no trunk sites"),
    ({"estimates": "sums-only"}, "sum only: no estimate is made on this sheet"),
    ({"protocol_id": "folds-only"}, "sum only: no estimate is made on this sheet"),
)


@pytest.mark.parametrize(("changes", "reason"), REASONS)
def test_about_tab_says_why_there_is_no_estimate(changes: dict[str, object], reason: str) -> None:
    about = _about(**changes)
    assert about["Estimate"] == [reason]
    assert [title for title in about if title.startswith("Equation")] == []
    assert "Density to fat" not in about


def test_about_tab_of_a_sheet_with_an_estimate_gives_no_reason_against_it() -> None:
    assert "Estimate" not in _about()


def test_about_tab_of_an_equation_without_a_published_range() -> None:
    protocol = SHEET.source.protocol
    open_ended = replace(protocol.equations[0], sum_minimum=None, sum_maximum=None)
    layout = layout_of(BuiltWith(SETTINGS, replace(protocol, equations=(open_ended,)), LAYOUT_VERSION)).layout
    texts = [str(cell.value) for cell in layout.tab("about").cells]
    assert any("no published range of the sum" in text for text in texts)


def test_about_tab_prints_every_caution() -> None:
    values = [cell.value for cell in SHEET.layout.tab("about").cells]
    cautions = cautions_of(SHEET.source.protocol, SETTINGS, SHEET.source.texts)
    assert list(cautions) == [f"caution.c{number:02}" for number in range(1, 14)]
    assert set(cautions.values()) - set(values) == set()


# protocol, what its own equations are out by (one standard error, points of fat: README and its sources)
ERRORS = (("seven-sites", "3.5 to 3.8"), ("four-sites", "3.5 to 5"), ("three-sites-men", "3.4"))


@pytest.mark.parametrize(("protocol_id", "error"), ERRORS)
def test_first_caution_says_the_error_of_the_equations_of_this_sheet(protocol_id: str, error: str) -> None:
    source = sheet_of(settings_with(protocol_id=protocol_id)).source
    assert cautions_of(source.protocol, SETTINGS, source.texts)["caution.c01"] == (
        "This is a teaching exercise. It estimates, it does not diagnose: for about one person in three the "
        f"estimate is out by more than {error} points of fat, and measuring error comes on top."
    )


def test_first_caution_of_a_protocol_without_equations_speaks_of_no_estimate() -> None:
    source = sheet_of(settings_with(protocol_id="folds-only")).source
    assert "estimate" not in cautions_of(source.protocol, SETTINGS, source.texts)["caution.c01"]


def test_reference_tabs_hold_labels_and_the_heading_only() -> None:
    for key in ("sites", "about"):
        cells = SHEET.layout.tab(key).cells
        assert {cell.role for cell in cells} == {"label", "identity", "formula"}
        assert {cell.row for cell in cells if cell.role != "label"} == {0, 1, 2}


TRICEPS = Site("triceps", "Triceps", "vertical", False, "On the back of the upper arm.", ("Right side.",))
WORDS = "Triceps. The body from the back. A vertical fold. On the back of the upper arm."


def test_figure_of_a_site_says_view_fold_and_where() -> None:
    assert large_image(TRICEPS, 5, 1, TEXTS) == Image(5, 1, "triceps", 104, 84, WORDS, 4, 4)


def test_small_figure_fits_a_row_of_26_points() -> None:
    image = small_image(TRICEPS, 6, 0, TEXTS)
    assert image == Image(6, 0, "triceps-small", 48, 32, WORDS, 1, 1)


# what of the site is changed
WITHOUT: tuple[dict[str, str], ...] = (
    {"word": "front_forearm"},
    {"direction": "horizontal"},
    {"figure": "none"},
    {"figure": "chest"},
)


@pytest.mark.parametrize("changes", WITHOUT)
def test_site_without_a_figure(changes: dict[str, str]) -> None:
    """A word of the teacher's own, another fold than the one drawn (twice), or none wanted."""
    site = replace(TRICEPS, **changes)  # type: ignore[arg-type]
    assert (large_image(site, 5, 1, TEXTS), small_image(site, 5, 1, TEXTS)) == (None, None)


def test_figure_that_the_protocol_names_goes_before_that_of_the_word() -> None:
    site = replace(TRICEPS, word="suprailiac", direction="diagonal", figure="suprailiac-side")
    image = large_image(site, 5, 1, TEXTS)
    assert image is not None
    assert image.name == "suprailiac-side"


def test_figure_of_the_class_itself_is_described_by_what_the_protocol_says() -> None:
    site = replace(TRICEPS, figure="my-arm")
    words = "Triceps. A vertical fold. On the back of the upper arm."
    assert large_image(site, 5, 1, TEXTS) == Image(5, 1, "my-arm", 104, 84, words, 4, 4)
    assert small_image(site, 5, 1, TEXTS) is None


def test_shipped_figures_are_png_files_by_name() -> None:
    found = figures.shipped_figures()
    assert found["triceps"] == (templates_folder() / "figures" / "triceps.png").read_bytes()
    assert {data[:8] for data in found.values()} == {b"\x89PNG\r\n\x1a\n"}


def test_figure_that_cannot_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "figures" / "triceps.png").mkdir(parents=True)
    monkeypatch.setattr(figures, "templates_folder", lambda: tmp_path)
    with pytest.raises(TemplateError, match=r"triceps\.png"):
        figures.shipped_figures.__wrapped__()


def _class_with(root: Path, data: bytes | None) -> ClassFolder:
    if data is not None:
        (root / "keep" / "figures").mkdir(parents=True)
        (root / "keep" / "figures" / "my-arm.png").write_bytes(data)
    return ClassFolder(root)


def test_figures_of_a_layout_are_shipped_or_the_class_s_own(tmp_path: Path) -> None:
    triceps = figures.shipped_figures()["triceps"]
    images = (Image(1, 1, "thigh", 200, 162, ""), Image(2, 1, "my-arm", 200, 162, ""))
    layout = Layout("Title", "Subject", "en", (Tab("one", "One", (), images=images),))
    assert figures.figures_of(layout, _class_with(tmp_path, triceps)) == {
        "thigh": figures.shipped_figures()["thigh"],
        "my-arm": triceps,
    }


# bytes of the file, what is found
WRONG = (
    (None, "no such file"),
    (b"", "not a PNG file"),
    (b"GIF89a" + bytes(40), "not a PNG file"),
    (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(8), "not a PNG file"),
    (bytes(500_001), "more than 500,000 bytes"),
)


@pytest.mark.parametrize(("data", "found"), WRONG)
def test_own_figure_that_cannot_be_used(data: bytes | None, found: str, tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=found) as raised:
        figures.own_figure(_class_with(tmp_path, data), "my-arm")
    assert str(raised.value.place).endswith("my-arm.png")
    assert 'figure = "none"' in raised.value.remedy


def test_own_figure_in_a_place_that_is_a_folder(tmp_path: Path) -> None:
    (tmp_path / "keep" / "figures" / "my-arm.png").mkdir(parents=True)
    with pytest.raises(FolderError, match="it cannot be read"):
        figures.own_figure(ClassFolder(tmp_path), "my-arm")
