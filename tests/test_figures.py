"""The drawn figures: every shipped site has one that agrees with it; the files are what the script draws."""

import io
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image, ImageChops

from sheetgen.protocols.loading import find_protocol, shipped_protocols
from sheetgen.protocols.protocol import Site
from sheetgen.sheet.reference_tabs import FIGURE_SIZE, FIGURES, FOLD_STEPS, SMALL_SIZE, shipped_figures

ROOT = Path(__file__).resolve().parents[1]
STEPS = [f"fold-{step}" for step in FOLD_STEPS]
NAMES = sorted([*(name + ending for name in FIGURES for ending in ("", "-small", "-large")), *STEPS])
SITES = sorted({site for name in shipped_protocols() for site in find_protocol(name).sites}, key=str)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("figures")
    script = ROOT / "samples" / "draw_figures.py"
    subprocess.run([sys.executable, str(script), str(folder)], check=True, capture_output=True)
    return folder


def _picture(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data)).convert("L")


@pytest.mark.parametrize("site", SITES, ids=lambda site: site.word)
def test_every_shipped_site_has_a_figure_with_its_direction_of_fold(site: Site) -> None:
    assert FIGURES[site.figure or site.word].direction == site.direction


def test_figure_of_a_site_that_two_descriptions_put_in_two_places() -> None:
    """Jackson & Pollock: in line with the front of the armpit. Durnin & Womersley: on the side."""
    chosen = {
        identifier: next(site.figure for site in find_protocol(identifier).sites if site.word == "suprailiac")
        for identifier in ("seven-sites", "three-sites-women", "four-sites")
    }
    assert chosen == {"seven-sites": "", "three-sites-women": "", "four-sites": "suprailiac-side"}


def test_files_are_those_of_the_table() -> None:
    assert sorted(shipped_figures()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_file_shows_what_the_script_draws(name: str, drawn: Path) -> None:
    """Two greys of sixteen at most apart: another release of the drawing library may round otherwise."""
    ours, fresh = _picture(shipped_figures()[name]), _picture((drawn / f"{name}.png").read_bytes())
    assert ours.size == fresh.size
    _, largest = ImageChops.difference(ours, fresh).getextrema()
    assert largest <= 34


@pytest.mark.parametrize("name", NAMES)
def test_file_is_small_grey_and_has_the_shape_in_which_it_is_shown(name: str) -> None:
    data = shipped_figures()[name]
    assert len(data) <= 30_000
    width, height = SMALL_SIZE if name.endswith("-small") else (240, 180) if name in STEPS else FIGURE_SIZE
    with Image.open(io.BytesIO(data)) as image:
        assert image.size[0] >= 2 * width
        assert image.size[0] / image.size[1] == pytest.approx(width / height, rel=0.01)
        red, green, blue = image.convert("RGB").split()
        assert red.tobytes() == green.tobytes() == blue.tobytes()
