"""A finding: a code with values, never a sentence; and a refusal, which is one about a whole file."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from msgspec import Struct, field
from msgspec.structs import replace

SEVERITIES = ("error", "warning", "note")
PRIVATE = ("measured", "typed", "written")
"""Kinds of value that no screen shows: they may be what was measured of a body, or what a person wrote."""


class Shown(Struct, frozen=True):
    """A value that is not worded as it stands; made by the functions below.
    kind : `quoted` a name, in quotes; `amount` a large count; `listed` words with `and` or `or`;
        `term` words of the language; `measured` a number of a body; `typed` what a cell holds, in quotes;
        `written` the same without quotes.
    content : for a term its key among the texts. values : of a term. joint : `and`, `or` of a list."""

    kind: str
    content: str | int | float | bool | tuple[str, ...] | None
    values: "Mapping[str, Plain | Shown]" = field(default_factory=dict)
    joint: str = ""


Plain = str | int | float
"""Codes, places, titles, names of files and exceptions; counts; numbers of a protocol or register."""
Value = Plain | Shown | tuple[str | Shown, ...]
Values = Mapping[str, Value]


class Finding(Struct, frozen=True):
    """One finding.
    code : stable words; the first is the family (`file`, `identity`, `sheet`, `entry`, `procedure`,
        `working`, `class`).
    values : what the templates of this code name. case : which of several situations of this code it is.
    tab, cell : the place in the workbook, empty where it is the whole file; of several places the first five.
    severity : as the catalogue of findings says for this code; empty until looked up there.
    count : how many places it stands for; the values are those of the first.
    name : of the cell, where it has one; of several places that of the first."""

    code: str
    values: Values = field(default_factory=dict)
    tab: str = ""
    cell: str = ""
    case: str = ""
    severity: str = ""
    count: int = 1
    name: str = ""

    @property
    def cells(self) -> tuple[str, ...]:
        """The places in the tab, one by one."""
        return tuple(self.cell.split(_BETWEEN_CELLS)) if self.cell else ()


_BETWEEN_CELLS = ", "
_MOST_CELLS = 5
_OF_SAVING = frozenset({"sheet-protection-off", "sheet-rules-lost"})
"""What a program drops on saving, from every tab alike: one finding a file."""


def gathered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings, all of one code and tab as one with their count and first five places; of what a
    program drops on saving one a file, without a place where it is more than one tab.

    So no file can flood a screen or a table. Entries keep a finding each, since a sheet has only so many."""
    first: dict[tuple[str, str, int], Finding] = {}
    count: Counter[tuple[str, str, int]] = Counter()
    cells: dict[tuple[str, str, int], list[str]] = defaultdict(list)
    for number, finding in enumerate(findings, start=1):
        tab = "" if finding.code in _OF_SAVING else finding.tab
        key = (finding.code, tab, number if finding.code.startswith("entry-") else 0)
        if first.setdefault(key, finding).tab != finding.tab:
            first[key], cells[key] = replace(finding, tab="", cell=""), []
        count[key] += finding.count
        if len(cells[key]) < _MOST_CELLS and first[key].tab == finding.tab:
            cells[key] += finding.cells
    return tuple(
        replace(
            finding, cell=_BETWEEN_CELLS.join(list(dict.fromkeys(cells[key]))[:_MOST_CELLS]), count=count[key]
        )
        for key, finding in first.items()
    )


class Worded(Struct, frozen=True):
    """A finding in the words of a language. found, expected : what stands there and what should.
    cell, count : as in `Finding`."""

    code: str
    severity: str
    found: str
    expected: str
    remedy: str
    tab: str = ""
    cell: str = ""
    count: int = 1

    @property
    def place(self) -> str:
        """Tab and cell; what is said of a whole tab has no cell."""
        return f"{self.tab}!{self.cell}" if self.cell else self.tab


class FindingKind(Struct, frozen=True):
    """One line of the catalogue of findings.
    severity : one of SEVERITIES. question : the file waits for a person's answer.
    means : what the finding says. remedy : one sentence on what to do."""

    code: str
    severity: str
    question: bool
    means: str
    remedy: str


def measured(number: float) -> Shown:
    """Return a number that was read off a body, worked out from such, or typed in its place."""
    return Shown("measured", number)


def typed(content: str | float | bool | None, longest: int = 60) -> Shown:
    """Return what a cell holds, its beginning where it is a long text."""
    return Shown("typed", content[:longest] if isinstance(content, str) else content)


def written(text: str, longest: int | None = None) -> Shown:
    """Return what a person wrote, shown without quotes: a formula, a reason."""
    return Shown("written", text[:longest])


def quoted(content: str | float | bool | None) -> Shown:
    """Return a name, an id or another printed value, shown in quotes."""
    return Shown("quoted", content)


def amount(count: int) -> Shown:
    """Return a count that may be large: of bytes, files, cells."""
    return Shown("amount", count)


def listed(words: tuple[str, ...], joint: str) -> Shown:
    """Return words with `and` or `or` between them."""
    return Shown("listed", words, joint=joint)


def term(key: str, **values: Plain | Shown) -> Shown:
    """Return words of the language by their key, such as `nothing`, with the values they name."""
    return Shown("term", key if "." in key else f"term.{key}", values)


class Refusal(Struct, frozen=True):
    """A whole file that is not read: code, of the family `file`, case and values of the finding about it."""

    code: str
    case: str
    values: Mapping[str, Plain | Shown]


class RefusedError(Exception):
    """Carries a Refusal up to the function that returns it; never leaves this package."""

    def __init__(self, refusal: Refusal) -> None:
        self.refusal = refusal
        super().__init__(refusal.code, refusal.case)


def other_kind(code: str, case: str = "", **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file that is not a workbook as it was handed out."""
    return Refusal(code, case, values)


def unreadable(case: str, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file whose contents cannot be understood."""
    return Refusal("file-unreadable", case, values)


def too_large(case: str, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file that goes beyond a bound."""
    return Refusal("file-too-large", case, values)


def truncated(case: str, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file of which a part was lost on the way."""
    return Refusal("file-truncated", case, values)


def unsafe(case: str, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file that could harm a reader."""
    return Refusal("file-unsafe", case, values)
