"""The figures as files."""

from pathlib import Path

import pytest

from sheetgen.errors import FolderError, TemplateError
from sheetgen.model.layout import Image, Layout, Tab
from sheetgen.store import figures
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.templates import templates_folder


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
