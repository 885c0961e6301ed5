"""The cards for the wall: a page a site, large, in every language, and the page on lifting a fold."""

import pytest
from msgspec.structs import replace

from sheetgen.protocols.loading import find_protocol
from sheetgen.protocols.protocol import Protocol
from sheetgen.sheet.reference_tabs import shipped_figures
from sheetgen.sheet.site_cards import site_cards_layout
from sheetgen.sheet.student import all_protocols
from sheetgen.texts.languages import texts_in
from sheetgen.workbook.cells import column_pixels, lines_needed
from sheetgen.workbook.layout import Layout
from tests.sheet.variants import LANGUAGES


def cards(protocol: Protocol, language: str = "en") -> Layout:
    return site_cards_layout(protocol, language, texts_in(language, "sheet", "paper"))


def test_a_page_a_site_and_one_for_the_fold() -> None:
    protocol = find_protocol("seven-sites")
    layout = cards(protocol)
    titles = [
        "The fold",
        "1 Chest",
        "2 Midaxillary",
        "3 Triceps",
        "4 Subscapular",
        "5 Abdominal",
        "6 Suprailiac",
    ]
    assert [tab.title for tab in layout.tabs] == [*titles, "7 Thigh"]
    assert {(tab.pages, tab.landscape) for tab in layout.tabs} == {(1, True)}
    said = [cell.value for cell in layout.tabs[3].cells if cell.value]
    site = protocol.sites[2]
    assert said == [
        "Triceps: vertical fold", f"Where: {site.landmark}", f"How: {' '.join(site.cues)}",
        "Watch: length taken with a straight arm: bend the elbow; "
        "the mark drifts outwards: carry it to the very back",
        "The right side, and the mark first. Cross: the mark. Pale lens: the fold. Triangles: the jaws.",
    ]  # fmt: skip
    (image,) = layout.tabs[3].images
    assert image.name == "triceps-large"
    assert image.alternative_text.startswith("Triceps. The body from the back.")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("protocol_id", sorted(all_protocols()))
def test_every_card_has_its_figure_and_room_for_its_words(language: str, protocol_id: str) -> None:
    """In a typeface as wide as any; A4 lying is 1,050 px wide and 690 high between its margins, so that 20
    points stay above 15 on paper."""
    for tab in cards(all_protocols(language=language)[protocol_id], language).tabs[1:]:
        heights = dict(tab.heights)
        (image,) = tab.images
        assert image.name in shipped_figures()
        assert image.width <= column_pixels(tab.widths[0])
        assert sum(heights[row] for row in (1, 2, 3)) >= (image.height + image.y_offset) * 0.75
        for cell in tab.cells:
            if cell.row and isinstance(cell.value, str):
                width, points = (sum(tab.widths), 16) if cell.across > 1 else (tab.widths[1], 20)
                needed = lines_needed(cell.value, width * 1.18, points=points) * points * 1.25
                assert needed <= heights[cell.row]
        high, wide = sum(heights.values()) / 0.75, sum(map(column_pixels, tab.widths)) * 8.48 / 7
        assert 20 * min(1.0, 690 / high, 1050 / wide) >= 15


def test_site_of_the_class_s_own_with_a_long_title_and_no_figure() -> None:
    """A tab's name has 31 characters and no slash."""
    protocol = find_protocol("three-sites-men")
    own = replace(protocol.sites[0], word="own", title="Front of the forearm / right side, high", figure="")
    tab = cards(replace(protocol, sites=(own, *protocol.sites[1:]))).tabs[1]
    assert tab.title == "1 Front of the forearm   right "
    assert tab.images == ()


@pytest.mark.parametrize("language", LANGUAGES)
def test_page_on_the_fold_has_six_drawn_steps_with_room_for_their_words(language: str) -> None:
    tab = cards(find_protocol("seven-sites"), language).tabs[0]
    heights = dict(tab.heights)
    assert [(image.row, image.column) for image in tab.images] == [
        (2, 0),
        (2, 1),
        (2, 2),
        (4, 0),
        (4, 1),
        (4, 2),
    ]
    for image in tab.images:
        assert heights[image.row] >= (image.height + image.y_offset) * 0.75
    for cell in tab.cells[1:]:
        if cell.value:
            width = sum(tab.widths[cell.column : cell.column + cell.across])
            assert lines_needed(str(cell.value), width * 1.18, points=16) * 20 <= heights[cell.row]
    assert sum(heights.values()) / 0.75 <= 690 / 0.75
