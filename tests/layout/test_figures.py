"""Which figure a site gets, and what is said about it."""

from dataclasses import replace

import pytest

from sheetgen.layout.figures import caption, large_image, small_image
from sheetgen.model.layout import Image
from sheetgen.model.protocol import Site
from sheetgen.store.texts import load_texts

TEXTS = load_texts("en")
TRICEPS = Site("triceps", "Triceps", "vertical", False, "On the back of the upper arm.", ("Right side.",))
WORDS = (
    "Triceps. The body from the back. The fold is vertical. "
    "A: tip of the shoulder. B: tip of the elbow. Cross: midway."
)


def test_figure_of_a_site_says_view_fold_and_letters() -> None:
    assert large_image(TRICEPS, 5, 1, TEXTS) == Image(5, 1, "triceps", 200, 162, WORDS, 5, 5)
    assert caption(TRICEPS, TEXTS) == "A: tip of the shoulder. B: tip of the elbow. Cross: midway."


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
    assert (large_image(site, 5, 1, TEXTS), small_image(site, 5, 1, TEXTS), caption(site, TEXTS)) == (
        None,
        None,
        "",
    )


def test_figure_that_the_protocol_names_goes_before_that_of_the_word() -> None:
    site = replace(TRICEPS, word="suprailiac", direction="diagonal", figure="suprailiac-side")
    image = large_image(site, 5, 1, TEXTS)
    assert image is not None
    assert image.name == "suprailiac-side"


def test_figure_of_the_class_itself_is_described_by_what_the_protocol_says() -> None:
    site = replace(TRICEPS, figure="my-arm")
    words = "Triceps. The fold is vertical. On the back of the upper arm."
    assert large_image(site, 5, 1, TEXTS) == Image(5, 1, "my-arm", 200, 162, words, 5, 5)
    assert (caption(site, TEXTS), small_image(site, 5, 1, TEXTS)) == ("", None)
