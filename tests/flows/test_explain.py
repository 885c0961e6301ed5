"""`sheetgen explain`: a page for every finding."""

import pytest

from sheetgen.errors import UsageError
from sheetgen.flows.explain import explained
from sheetgen.store.catalogue import load_catalogue
from tests.classes import only_line, run


def test_every_code_has_a_page_with_meaning_and_remedy() -> None:
    for code, kind in load_catalogue().items():
        result = run("explain", code)
        assert (result.exit_code, result.stderr) == (0, "")
        assert result.stdout == f"{code} ({kind.severity})\n{kind.means}\nWhat to do: {kind.remedy}\n"


def test_without_a_code_all_are_listed() -> None:
    lines = run("explain").stdout.splitlines()
    assert [line.split() for line in lines] == [
        [kind.severity, code] for code, kind in load_catalogue().items()
    ]


def test_an_unknown_code_names_the_near_one() -> None:
    result = run("explain", "sheet-damaged-by-cat")
    assert result.exit_code == 2
    assert only_line(result) == (
        "sheetgen: sheet-damaged-by-cat: no finding of that code; expected a code of the catalogue."
        " Did you mean 'sheet-damaged-by-cut'?"
    )


def test_a_code_like_no_other_names_the_list() -> None:
    with pytest.raises(UsageError) as caught:
        explained("zzz")
    assert caught.value.remedy == "`sheetgen explain` without a code lists them all."
