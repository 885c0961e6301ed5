"""Sheets in every language, for what must hold in each of them."""

from sheetgen.texts.languages import languages
from tests.sheets import Sheet, settings_with, sheet_of

LANGUAGES = languages()


def sheet_in(language: str, **changes: object) -> Sheet:
    """Return the sheet of the usual settings in a language, with some more of them changed."""
    return sheet_of(settings_with(language=language, **changes))
