"""Template files: what shipped ones and a teacher's own share."""

from pathlib import Path

import pytest

from sheetgen.errors import TemplateError, UsageError
from sheetgen.store.protocol_keys import Fault, Table
from sheetgen.store.template_files import TemplateFault, TemplateKind, examined, path_of, shipped, table_of


def _title_faults(table: Table) -> list[Fault]:
    return [] if "title" in table else [Fault(("title",), "missing", "a text")]


KIND = TemplateKind("marking scheme", "marking", _title_faults)


def _file(folder: Path, text: str | bytes) -> Path:
    path = folder / "own.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def test_shipped_and_its_path() -> None:
    assert shipped(KIND) == ("usual",)
    assert path_of(KIND, "usual").name == "usual.toml"
    assert path_of(KIND, "mine/own.toml") == Path("mine/own.toml")


def test_path_of_a_near_miss() -> None:
    with pytest.raises(
        UsageError, match=r"no marking scheme 'usal'; expected usual\. Did you mean 'usual'\?"
    ):
        path_of(KIND, "usal")


# contents of the file, its faults
FILES = (
    ('title = "A"\n', ()),
    ("", (TemplateFault(0, "title", "missing", "a text"),)),
    (b"title = \xff", (TemplateFault(1, "", "byte 9 is not UTF-8", "a file saved as UTF-8 text"),)),
    ("#" * 200_001, (TemplateFault(0, "", "more than 200 kB", "a marking scheme file of a few kB"),)),
    (
        'title = "A"\nidentifier = "usual"\n',
        (
            TemplateFault(
                2, "identifier", "'usual', the name of a shipped marking scheme", "a name of its own"
            ),
        ),
    ),
)


@pytest.mark.parametrize(("contents", "expected"), FILES)
def test_examined(tmp_path: Path, contents: str | bytes, expected: tuple[TemplateFault, ...]) -> None:
    assert examined(KIND, _file(tmp_path, contents))[1] == expected


def test_table_of_a_file_with_a_fault_names_it(tmp_path: Path) -> None:
    with pytest.raises(TemplateError, match=r"1 fault; .*\n  title: missing; expected a text"):
        table_of(KIND, _file(tmp_path, ""))


def test_table_of_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(TemplateError, match="a marking scheme file"):
        table_of(KIND, tmp_path / "none.toml")
