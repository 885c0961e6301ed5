"""Sheets for tests: settings, a Layout and a rendered workbook of an invented class."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from msgspec.structs import replace

from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.returned.attempt import Issued
from sheetgen.sheet.reference_tabs import shipped_figures
from sheetgen.sheet.student import SheetCopy, Source, sheet_identity, source_of
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity, Layout, Place
from sheetgen.workbook.render import rendered

CALIPERS = (
    Caliper("C1", "spring caliper", 0.5, 60.0, 0.0),
    Caliper("C2", "dial caliper", 0.2, 80.0, -0.4),
    Caliper("7", "sliding caliper", 1.0, 60.0, 3.0),
)

SETTINGS = SheetSettings(
    protocol_id="seven-sites",
    language="en",
    site_rule="median",
    tolerance_kind="mm",
    tolerance=2.0,
    conversion="siri",
    show_results="after-working",
    calipers=CALIPERS,
)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A rendered workbook with everything it was made from.
    places : tab title, row, column by the name of a cell."""

    source: Source
    identity: Identity
    data: bytes
    places: Mapping[str, Place] = field(repr=False, compare=False)

    @property
    def layout(self) -> Layout:
        return self.source.layout

    @property
    def issued(self) -> Issued:
        return Issued(self.source.layout, self.identity.values, self.source.protocol, self.source.settings)

    def place(self, name: str) -> list[str | int]:
        """Tab title, row, column, as the spreadsheet program is asked."""
        return list(self.places[name])


@lru_cache(maxsize=256)
def sheet_of(
    settings: SheetSettings = SETTINGS, caliper_id: str = "C1", copy_code: str = "7K3F-9QXM"
) -> Sheet:
    """Return the sheet of measurer S01 about participant P-2A3B."""
    source = source_of(settings)
    copy = SheetCopy(copy_code, "CLASS2", "S01", "P-2A3B", 1, caliper_id)
    identity = sheet_identity(source.protocol, settings, source.texts, copy)
    data = rendered(source.layout, identity, read_template("style.toml"), shipped_figures())
    return Sheet(source, identity, data, _titled(source.layout))


def settings_with(**changes: object) -> SheetSettings:
    """Return the usual settings with some changed."""
    return replace(SETTINGS, **changes)  # type: ignore[arg-type]


def _titled(layout: Layout) -> dict[str, Place]:
    titles = {tab.key: tab.title for tab in layout.tabs}
    return {name: (titles[key], row, column) for name, (key, row, column) in layout.places().items()}
