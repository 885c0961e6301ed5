import pytest

from sheetgen.errors import TemplateError
from sheetgen.store.texts import load_texts


def _from(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr("sheetgen.store.templates.read_template", lambda relative: text)


def test_texts_of_english_by_section_and_key() -> None:
    english = load_texts("en")
    assert english["tab.start"] == "Start"
    assert english["step.sex-equation"].startswith("choose the equation")
    assert {value for value in english.values() if not isinstance(value, str)} == set()


def test_texts_are_flattened(monkeypatch: pytest.MonkeyPatch) -> None:
    _from(monkeypatch, '[tab]\nstart = "Inicio"\n[step]\ndone = "fin"\n')
    assert load_texts("es") == {"tab.start": "Inicio", "step.done": "fin"}


@pytest.mark.parametrize("language", ["xx", "../findings", "../../pyproject"])
def test_language_that_is_not_there(language: str) -> None:
    with pytest.raises(TemplateError):
        load_texts(language)


# what the file holds, what the message says
FAULTS = (
    ("[tab]\nstart = 3\n", "tab.start is not a text"),
    ('[tab]\nstart = ["a"]\n', "tab.start is not a text"),
    ('start = "Start"\n', "start stands in no section"),
    ("[tab\n", "a TOML file of texts"),
)


@pytest.mark.parametrize(("text", "message"), FAULTS)
def test_file_with_a_fault(monkeypatch: pytest.MonkeyPatch, text: str, message: str) -> None:
    _from(monkeypatch, text)
    with pytest.raises(TemplateError, match=message) as caught:
        load_texts("es")
    assert caught.value.place == "text/es.toml"
