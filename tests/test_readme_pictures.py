"""The pictures of README and handbook: those that the scripts draw, small, cropped to what a page holds."""

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest
from PIL import Image, ImageDraw

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "samples" / "pictures"


@pytest.fixture(scope="module")
def script() -> ModuleType:
    found = importlib.util.spec_from_file_location("draw_pictures", ROOT / "samples" / "draw_pictures.py")
    assert found is not None and found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


def test_files_are_those_that_the_script_draws(script: ModuleType) -> None:
    tabs = ("care", "start", "sites", "drill", "readings", "working", "results", "about")
    drawn = [*(one.name for one in script.PICTURES), *(f"window-{tab}" for tab in tabs)]
    assert sorted(path.stem for path in FOLDER.iterdir()) == sorted(drawn)


def test_readme_shows_pictures_that_are_there() -> None:
    shown = re.findall(r"\]\((samples/pictures/[^)]+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert shown
    assert [name for name in shown if not (ROOT / name).is_file()] == []


def test_no_picture_is_wider_or_heavier_than_a_readme_can_bear() -> None:
    for path in FOLDER.iterdir():
        with Image.open(path) as picture:
            assert picture.width <= 1366, path.name
        assert path.stat().st_size <= 150_000, path.name


def test_page_is_cropped_to_what_stands_on_it_without_its_number(script: ModuleType) -> None:
    page = Image.new("RGB", (400, 1000), "white")
    draw = ImageDraw.Draw(page)
    draw.rectangle((100, 200, 299, 399), fill="black")
    draw.rectangle((190, 960, 210, 970), fill="black")
    assert script.cropped(page).size == (200 + 2 * 16, 200 + 2 * 16)
    assert script.cropped(page, 0.5).size == (200 + 2 * 16, 100 + 2 * 16)


def test_wide_page_is_made_narrower(script: ModuleType) -> None:
    page = Image.new("RGB", (3000, 1000), "white")
    ImageDraw.Draw(page).rectangle((100, 100, 2899, 799), fill="black")
    assert script.cropped(page).width == 1200
