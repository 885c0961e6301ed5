"""The catalogue of findings, from templates/findings.toml."""

import tomllib
from functools import lru_cache

from sheetgen.errors import TemplateError
from sheetgen.model.finding import SEVERITIES, FindingKind
from sheetgen.store.templates import read_template

__all__ = ["load_catalogue"]

_PLACE = "findings.toml"


@lru_cache(maxsize=1)
def load_catalogue() -> dict[str, FindingKind]:
    """Return every kind of finding by its code.

    Raises
    ------
    TemplateError : the catalogue is not as it should be.
    """
    try:
        tables = tomllib.loads(read_template(_PLACE))
        kinds = {
            code: FindingKind(
                code, table["severity"], table.get("question", False), table["means"], table["remedy"]
            )
            for code, table in tables.items()
        }
    except (tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError) as error:
        raise TemplateError(
            _PLACE, str(error), "severity, means and remedy for every code", "Mend it."
        ) from error
    for kind in kinds.values():
        if kind.severity not in SEVERITIES:
            expected = ", ".join(SEVERITIES)
            raise TemplateError(
                _PLACE, f"{kind.code} has severity {kind.severity!r}", expected, "Choose one."
            )
    return kinds
