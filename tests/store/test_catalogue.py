from collections.abc import Iterator

import pytest

from sheetgen.errors import TemplateError
from sheetgen.model.finding import FindingKind
from sheetgen.store import catalogue
from sheetgen.store.catalogue import load_catalogue

FAMILIES = {"file", "identity", "sheet", "entry", "procedure", "working", "class"}


@pytest.fixture(autouse=True)
def _fresh() -> Iterator[None]:
    load_catalogue.cache_clear()
    yield
    load_catalogue.cache_clear()


def test_every_kind_says_what_it_means_and_what_to_do() -> None:
    kinds = load_catalogue()
    assert len(kinds) > 40
    assert {kind.code.partition("-")[0] for kind in kinds.values()} <= FAMILIES
    assert [code for code, kind in kinds.items() if code != kind.code] == []
    assert [kind.code for kind in kinds.values() if not kind.means.endswith(".")] == []
    assert [kind.code for kind in kinds.values() if not kind.remedy.removesuffix('"').endswith(".")] == []


def test_kind_with_an_open_question() -> None:
    assert load_catalogue()["entry-date"].question is True
    assert load_catalogue()["entry-formula"].question is False


def test_kind_as_it_stands_in_the_file(monkeypatch: pytest.MonkeyPatch) -> None:
    text = '[file-odd]\nseverity = "note"\nmeans = "Odd."\nremedy = "Look."\n'
    monkeypatch.setattr(catalogue, "read_template", lambda relative: text)
    assert load_catalogue() == {"file-odd": FindingKind("file-odd", "note", False, "Odd.", "Look.")}


# what the file holds, what the message says
FAULTS = (
    ('[file-odd]\nseverity = "note"\nmeans = "Odd."\n', "remedy"),
    ('[file-odd]\nseverity = "fatal"\nmeans = "Odd."\nremedy = "Look."\n', "file-odd has severity 'fatal'"),
    ('file-odd = "note"\n', "severity, means and remedy for every code"),
    ("file-odd = 3\n", "severity, means and remedy for every code"),
    ("[file-odd\n", "severity, means and remedy for every code"),
)


@pytest.mark.parametrize(("text", "message"), FAULTS)
def test_catalogue_with_a_fault(monkeypatch: pytest.MonkeyPatch, text: str, message: str) -> None:
    monkeypatch.setattr(catalogue, "read_template", lambda relative: text)
    with pytest.raises(TemplateError, match=message):
        load_catalogue()
