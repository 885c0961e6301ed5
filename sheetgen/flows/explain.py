"""What a finding means and what to do."""

from difflib import get_close_matches

from sheetgen.errors import UsageError
from sheetgen.model.finding import FindingKind
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.texts import DEFAULT_LANGUAGE

__all__ = ["explained"]


def explained(code: str, language: str = DEFAULT_LANGUAGE) -> FindingKind:
    """Return the catalogue's line of a finding, in a language.

    Raises
    ------
    UsageError : there is no such code; a near miss is named.
    """
    catalogue = load_catalogue(language)
    if code in catalogue:
        return catalogue[code]
    near = get_close_matches(code, catalogue, n=1)
    remedy = f"Did you mean {near[0]!r}?" if near else "`sheetgen explain` without a code lists them all."
    raise UsageError(code, "no finding of that code", "a code of the catalogue", remedy)
