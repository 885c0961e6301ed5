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


def of_texts(monkeypatch: pytest.MonkeyPatch, **texts: str) -> None:
    found = {f"file-odd.{name}": text for name, text in texts.items()}
    monkeypatch.setattr(catalogue, "texts_in", lambda *_: found)


def test_kind_as_it_stands_in_the_file(monkeypatch: pytest.MonkeyPatch) -> None:
    of_texts(monkeypatch, severity="note", means="Odd.", remedy="Look.", found="this", expected="that")
    assert load_catalogue() == {"file-odd": FindingKind("file-odd", "note", False, "Odd.", "Look.")}


# the texts of a code, what the message says
FAULTS = (
    ({"severity": "note", "means": "Odd."}, "file-odd without remedy"),
    ({"severity": "note", "remedy": "Look."}, "file-odd without means"),
    ({"severity": "fatal", "means": "Odd.", "remedy": "Look."}, "file-odd has severity 'fatal'"),
)


@pytest.mark.parametrize(("texts", "message"), FAULTS)
def test_catalogue_with_a_fault(monkeypatch: pytest.MonkeyPatch, texts: dict[str, str], message: str) -> None:
    of_texts(monkeypatch, **texts)
    with pytest.raises(TemplateError, match=message):
        load_catalogue()
