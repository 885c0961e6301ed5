"""The catalogue of findings, from templates/text/findings.LANGUAGE.toml."""

from functools import lru_cache

from sheetgen.errors import TemplateError
from sheetgen.model.finding import SEVERITIES, FindingKind
from sheetgen.store.texts import DEFAULT_LANGUAGE, texts_in

__all__ = ["finding_texts", "load_catalogue"]

_PLACE = f"text/findings.{DEFAULT_LANGUAGE}.toml"


def finding_texts(language: str = DEFAULT_LANGUAGE) -> dict[str, str]:
    """Return the words of findings in a language, with those of its numbers."""
    return texts_in(language, "sheet", "findings")


@lru_cache(maxsize=8)
def load_catalogue(language: str = DEFAULT_LANGUAGE) -> dict[str, FindingKind]:
    """Return every kind of finding by its code.

    Severities and questions stand in English only: no language changes what becomes of a file.

    Parameters
    ----------
    language : of what it means and of the remedy; English where that language has none.

    Raises
    ------
    TemplateError : the catalogue is not as it should be.
    """
    texts = texts_in(language, "findings")
    kinds = {}
    for key, severity in texts.items():
        code, _, part = key.partition(".")
        if part != "severity":
            continue
        if severity not in SEVERITIES:
            expected = ", ".join(SEVERITIES)
            raise TemplateError(_PLACE, f"{code} has severity {severity!r}", expected, "Choose one.")
        for name in ("means", "remedy"):
            if f"{code}.{name}" not in texts:
                raise TemplateError(_PLACE, f"{code} without {name}", "one for every code", "Add it.")
        question = texts.get(f"{code}.question") == "yes"
        kinds[code] = FindingKind(code, severity, question, texts[f"{code}.means"], texts[f"{code}.remedy"])
    return kinds
