"""What the class book asks for: one row a setting of the tab Class, one row a column of every other table. A
row drives the label or heading, the rule of the cell with its message, what stands there at first, and the
reading back. A new setting is a field of its record, a row here, and its texts."""

import re
from collections.abc import Callable, Mapping, Sequence
from operator import attrgetter
from typing import Any

from msgspec import Struct

from sheetgen.class_folder.records import CIRCUITS, LONGEST_OF_PERSON, ROLES, ClassBook
from sheetgen.protocols.protocol import Protocol
from sheetgen.workbook.addresses import absolute, in_tab
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import chain

HEADING_ROW = 4
FIRST_ROW = 5
PRINTED_SPARE = 10
"""Empty lines with a grid that are printed below the filled ones: all the spare ones would be pages of
nothing."""
MEASURES_ONLY = "measures-only"
"""Takes part so far only: the sheet of their turn as participant is handed out with practice filled in."""
LEFT = "left"
"""The status of who has left the class; everybody else has none."""
BLOCKS = (10.0, 20.0, 30.0, 40.0)
"""Gauge blocks that a caliper is checked on [mm]."""
DIVISIONS = (1.0, 0.5, 0.2, 0.1)
"""Steps of the scales of calipers [mm]."""
LONGEST_TITLE = 60
"""Characters of the title of a class."""
ZERO_LIMIT = 1.0
"""A caliper that reads further from 0 when closed is for practice only [mm]. Common practice, no standard."""


class Entry(Struct, frozen=True):
    """A setting, or a column of a table.
    key : its name among the texts and in the name of its cell.
    kind : `text`, of at most `most` characters; among texts `id` and `label` (each once in its column),
        `person`, `caliper` (who and what stands on another tab), `ids`, `groups` (several ids), `code` (of a
        copy), `day`, `names` and `make-ups` (several; of the latter each as `3=1`). `word`,
        one of `words`; `flag`, yes or no; `choice`, one of words that differ by class. `number` and `whole`,
        from `least` to `most`; `step`, one of DIVISIONS; `block`, a number or nothing. `formula`: shown
        beside the entries, typed by nobody.
    formula : of such a column, as Places.formula takes it.
    field : of a setting, where its value stands in the record ClassBook; of a column, in its own record where
        that is not `key`.
    width : of a column. later : class books made before this was asked for have no such line or column.
    may_lack : a class book that has no such column asks for nothing by it, whenever it was made."""

    key: str
    kind: str = "text"
    words: tuple[str, ...] = ()
    least: float = 0.0
    most: float = 0.0
    field: str = ""
    width: float = 0.0
    later: bool = False
    may_lack: bool = False
    formula: str = ""

    @property
    def numeric(self) -> bool:
        """Whether numbers are typed here."""
        return self.kind in ("number", "whole", "step", "block")


class Table(Struct, frozen=True):
    """A tab with one line a person, caliper or pair. key : of the tab. line : section of its texts, and how
    the names of its cells begin. spare : how many empty lines it has. columns : every one from A on."""

    key: str
    line: str
    spare: int
    columns: tuple[Entry, ...]

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The columns that are typed into."""
        return tuple(column for column in self.columns if column.kind != "formula")

    @property
    def width(self) -> int:
        """How many columns there are up to the last that is typed into."""
        return self.at(self.entries[-1].key) + 1

    def at(self, key: str) -> int:
        """Return where a column stands, from 0."""
        return next(place for place, column in enumerate(self.columns) if column.key == key)


SETTINGS = (
    Entry("class_title", most=LONGEST_TITLE, field="title"),
    Entry("protocol", "choice", field="settings.protocol_id"),
    Entry("site_rule", "word", ("median", "closest-pair"), field="settings.site_rule"),
    Entry("tolerance_kind", "word", ("mm", "percent"), field="settings.tolerance_kind"),
    Entry("tolerance", "number", least=0.1, most=50.0, field="settings.tolerance"),  # [mm] or [%]
    Entry("conversion", "choice", field="settings.conversion"),
    Entry("show_results", "word", ("always", "after-working", "never"), field="settings.show_results"),
    Entry("minors", "word", ("some", "none", "all"), field="minors"),
    Entry("estimates", "word", ("on", "sums-only"), field="settings.estimates"),
    Entry("youth_estimate", "word", ("off", "on"), field="settings.youth_estimate"),
    # Later ones stand last, so that the lines of earlier class books stand where they stood.
    Entry("due_date", "day", most=10, field="due_date", later=True),
    Entry("feedback_given", "day", most=10, field="feedback_given", later=True),
    Entry("declared", "groups", most=200, field="declared", later=True),
    Entry("group_size", "whole", least=2.0, most=6.0, field="group_size", later=True),
    Entry("demonstration", most=40, field="demonstration", later=True),
    # [s]
    Entry("seconds_a_reading", "number", least=10.0, most=300.0, field="seconds_a_reading", later=True),
    Entry("spare_sheets", "whole", least=0.0, most=20.0, field="spare_sheets", later=True),
    Entry("cover_round_1", "flag", ("no", "yes"), field="settings.cover_round_1", later=True),
    Entry("language", "choice", field="settings.language", later=True),
    Entry("delete_on", "day", most=10, field="settings.delete_on", later=True),
    Entry("narrow", "flag", ("no", "yes"), field="settings.narrow", later=True),
    Entry("reading_drill", "flag", ("yes", "no"), field="settings.reading_drill", later=True),
    # [min]
    Entry("lesson_minutes", "whole", least=20.0, most=300.0, field="lesson_minutes", later=True),
    Entry("marking_minutes", "number", most=30.0, field="marking_minutes", later=True),
    Entry("changing_minutes", "number", most=30.0, field="changing_minutes", later=True),
    Entry("teacher_measures", most=200, field="teacher_measures", later=True),
    Entry("circuit", "word", CIRCUITS, field="circuit", later=True),
    Entry("session_names", "names", most=400, field="session_names", later=True),
    Entry("make_ups", "make-ups", most=60, field="make_ups", later=True),
)
"""The lines of the tab Class. One that is left empty holds what the record of a new class holds."""

_NOBODY = (
    'IF(OR({is status=left},{is role=teacher}),"",'
    "IF(ISNA(MATCH({line number},{all measurers_at},0)),{say measures_nobody},"
    'IF(AND(TRIM({setting demonstration})="",ISNA(MATCH({line number},{all participants_at},0))),'
    '{say measured_by_nobody},"")))'
)
_ROSTER_CHECK = (
    'IF({nth ids}="",IF({text given_name}&{text family_name}&{text email}="","",{say id_missing}),'
    "IF(SUMPRODUCT(--({all ids}={nth ids}))>1,{say id_twice},"
    'IF(AND({text partner}<>"",OR({text partner}={nth ids},ISNA(MATCH({text partner},{all ids},0)))),'
    f"{{say partner_unknown}},{_NOBODY})))"
)
_BLOCK_OFF = "+".join(
    f"IF(ISNUMBER({{value block_{block:g}}}),"
    f"IF(ROUND(ABS({{value block_{block:g}}}-N({{value zero}})-{block:g}),2)>{{value division}},1,0),0)"
    for block in BLOCKS
)
_CALIPER_CHECK = (
    f'IF({{own issued}}="","",IF(ROUND(ABS(N({{value zero}})),2)>{ZERO_LIMIT:g},{{say zero_large}},'
    f'IF({_BLOCK_OFF}>0,{{say block_off}},IF({{value checked_on}}="",{{say unchecked}},""))))'
)
_AGAIN = (
    "IF(LEN({text checked_on})=10,IF(ISNUMBER(VALUE(LEFT({text checked_on},4))),"
    '(VALUE(LEFT({text checked_on},4))+1)&MID({text checked_on},5,6),""),"")'
)
"""The day by which to check a caliper again: from a day typed as 2027-03-31."""
_AT = {key: f"MATCH({{text {key}}},{{all ids}},0)" for key in ("measurer", "participant")}
_NAME = {
    key: f'IF({{text {key}}}="","",IF(ISNUMBER({at}),INDEX({{all names}},{at}),""))'
    for key, at in _AT.items()
}
_STATES = [f"INDEX({{all states}},{{own {key}s_at}})" for key in _AT]
_LEFT = f'OR({_STATES[0]}="{LEFT}",{_STATES[1]}="{LEFT}")'
_SAME = "+".join(f"({{all {one}s_at}}={{own {other}s_at}})" for one in _AT for other in _AT)
_TWO_PLACES = (
    f'IF(OR({{own waves}}="",TRIM({{setting demonstration}})<>""),FALSE,'
    f"SUMPRODUCT(({{all waves}}={{own waves}})*(({_SAME})>0))>1)"
)
"""Somebody of this line stands in another one of the same wave."""
_PAIR_FAULTS = {
    "measurer_unknown": "{own measurers_at}=0",
    "participant_unknown": "{own participants_at}=0",
    "self": "{text measurer}={text participant}",
    "twice": "MATCH({nth pair_keys},{all pair_keys},0)<{line number}",
    "left": _LEFT,
    "caliper_unknown": 'AND({text caliper}<>"",NOT(ISNUMBER(MATCH({text caliper},{all issued},0))))',
    "protocol_unknown": 'AND({text protocol}<>"",NOT(ISNUMBER(MATCH({text protocol},{all protocols},0))))',
    "spare_malformed": 'AND({text spare}<>"",LEN(SUBSTITUTE(SUBSTITUTE({text spare},"-","")," ",""))<>8)',
    "swap": '{text instead}<>""',
    "two_places": _TWO_PLACES,
    "apart": 'OR(ISNUMBER(FIND(" "&LOWER({text participant})&" ",INDEX({all aparts},{own measurers_at}))),'
    'ISNUMBER(FIND(" "&LOWER({text measurer})&" ",INDEX({all aparts},{own participants_at}))))',
}
_PAIR_CHECK = chain(
    [
        ('{text measurer}&{text participant}&{text caliper}&{text protocol}&{text spare}=""', '""'),
        *((fault, f"{{say {word}}}") for word, fault in _PAIR_FAULTS.items()),
    ]
)

_ROSTER = (
    # What a roster from elsewhere may bring.
    Entry("student_id", "id", most=LONGEST_OF_PERSON["student_id"], width=14),
    Entry("given_name", most=LONGEST_OF_PERSON["given_name"], width=16),
    Entry("family_name", most=LONGEST_OF_PERSON["family_name"], width=18),
    Entry("email", most=LONGEST_OF_PERSON["email"], width=26),
    Entry("group", most=LONGEST_OF_PERSON["group"], width=10),
    Entry("role", "word", ROLES, most=LONGEST_OF_PERSON["role"], width=10),
    Entry("under_18", "word", ("yes", "no"), most=LONGEST_OF_PERSON["under_18"], width=11),
    # What only the class book says of a person.
    Entry("takes_part", "word", ("both", MEASURES_ONLY), width=15, later=True),
    Entry("partner", most=40, width=13, later=True),
    Entry("apart", "ids", most=200, width=18, later=True),
    Entry("status", "word", (LEFT,), width=9, later=True),
    Entry("due_date", "day", most=10, width=12, may_lack=True),
    Entry("participant_code", "formula", width=11, formula="{nth codes}"),
    Entry("check", "formula", width=25, formula=_ROSTER_CHECK),
)
_CALIPERS = (
    Entry("identifier", "label", most=12, width=14),
    Entry("build", most=60, width=22),
    Entry("division", "step", width=9),  # [mm], as everything here that is measured
    Entry("opening", "number", least=10.0, most=120.0, width=9),
    Entry("zero", "number", least=-10.0, most=10.0, width=8),
    Entry("in_service", "flag", ("yes", "no"), width=9),
    # The last check.
    *(Entry(f"block_{block:g}", "block", most=60.0, width=8, later=True) for block in BLOCKS),
    Entry("checked_on", "day", most=10, width=12, later=True),
    Entry("checked_by", most=40, width=14, later=True),
    Entry("again", "formula", width=13, formula=_AGAIN),
    Entry("check", "formula", width=41, formula=_CALIPER_CHECK),
)
_PAIRS = (
    Entry("measurer", "person", most=40, width=18),
    Entry("measurer_name", "formula", width=26, formula=_NAME["measurer"]),
    Entry("participant", "person", most=40, width=18),
    Entry("participant_name", "formula", width=26, formula=_NAME["participant"]),
    Entry("caliper", "caliper", most=12, field="caliper_id", width=12),
    Entry("protocol", "choice", field="protocol_id", width=18),
    Entry("spare", "code", most=12, width=15, later=True),
    Entry("instead", "person", most=40, width=18, may_lack=True),
    Entry("check", "formula", width=40, formula=_PAIR_CHECK),
)
ROSTER = Table("roster", "roster", 200, _ROSTER)
CALIPERS = Table("calipers", "caliper", 39, _CALIPERS)
PAIRS = Table("pairs", "pair", 200, _PAIRS)
TABLES = {table.key: table for table in (ROSTER, CALIPERS, PAIRS)}
CLASS_TAB = Table("class", "setting", 0, (Entry("what"), Entry("entry")))
"""The columns by which the settings are found."""


def choices_of(protocols: Sequence[Protocol], languages: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Return what may be chosen in a class, by key of the setting or column."""
    conversions = (each.identifier for protocol in protocols for each in protocol.conversions)
    return {
        "protocol": tuple(protocol.identifier for protocol in protocols),
        "conversion": tuple(dict.fromkeys(conversions)),
        "language": tuple(languages),
    }


def setting_values(book: ClassBook) -> dict[str, Any]:
    """Return the value of every setting in a class book, by key."""
    return {setting.key: attrgetter(setting.field)(book) for setting in SETTINGS}


_CODE_AT = "MATCH({own ids},{all coded_ids},0)"
_NEXT = "MATCH(MOD({own pair_numbers}-1,MAX({all issued_numbers}))+1,{all issued_numbers},0)"
_STATION = (
    f'IF(OR({{own measurers_at}}=0,{{own participants_at}}=0),"",'
    f'IF(OR({_LEFT},{_STATES[0]}="teacher"),"",IF({{text caliper}}<>"",'
    f'{{text caliper}},IF(MAX({{all issued_numbers}})=0,"",INDEX({{all issued}},{_NEXT})))))'
)
HIDDEN = {
    "ids": ("roster", "id", "{text student_id}"),
    "names": ("roster", "name", 'TRIM({text given_name}&" "&{text family_name})'),
    "codes": (
        "roster", "code",
        f'IF({{own ids}}="","",IF(ISNUMBER({_CODE_AT}),INDEX({{all given_codes}},{_CODE_AT}),""))',
    ),
    # The codes given out are read back from these two, so they stay where they are.
    "coded_ids": ("roster", "coded id", ""),
    "given_codes": ("roster", "coded", ""),
    "issued": ("calipers", "in service", 'IF({is in_service=no},"",{text identifier})'),
    "pair_keys": (
        "pairs", "pair",
        'IF({text measurer}&{text participant}="","",{text measurer}&"/"&{text participant})',
    ),
    "protocols": ("protocols", "protocol", ""),
    "given_names": ("roster", "given name", "{text given_name}"),
    "states": (
        "roster", "state", 'IF({is status=left},"left",IF({is role=teacher},"teacher",""))',
    ),
    # The ids to be kept apart from, each between blanks.
    "aparts": (
        "roster", "apart",
        'IF({text apart}="",""," "&LOWER(SUBSTITUTE(SUBSTITUTE({text apart},";"," "),","," "))&" ")',
    ),
    "issued_numbers": (
        "calipers", "which in service",
        'IF({own issued}="","",SUMPRODUCT(--({top issued}:{own issued}<>"")))',
    ),
    "pair_numbers": ("pairs", "which pair", '{above pair_numbers}IF({own pair_keys}="",0,1)'),
    # On which line of the roster a pair's people stand, 0 where on none.
    **{
        f"{key}s_at": ("pairs", f"{key} at", f'IF({{text {key}}}="",0,IF(ISNUMBER({at}),{at},0))')
        for key, at in _AT.items()
    },
    # A pair's caliper, the next in turn where none is named, nothing where someone left or the teacher
    # measures, and its turn there: of all turns, where everybody measures the same person.
    "stations": ("pairs", "station", _STATION),
    "waves": (
        "pairs", "wave",
        'IF({own stations}="","",IF(TRIM({setting demonstration})<>"",'
        'SUMPRODUCT(--({top stations}:{own stations}<>"")),'
        "SUMPRODUCT(--({top stations}:{own stations}={own stations}))))",
    ),
    "site_counts": ("protocols", "sites", ""),
    "drawings": ("protocols", "drawn", ""),
}  # fmt: skip
"""Columns of the hidden tab in their order: the table that each follows, its heading, and its formula."""
HIDDEN_AT = {key: column for column, key in enumerate(HIDDEN)}

_NAMED = re.compile(r"\{(\w+) ([\w=-]+)\}")


class Places(Struct, frozen=True):
    """The addresses of a class book. texts : with the titles of the tabs. rows : table to how many lines it
    has, `protocols` among them."""

    texts: Mapping[str, str]
    rows: Mapping[str, int]

    def column(self, key: str, inside: bool = False) -> str:
        """Return the address of a column of the hidden tab, as seen from another tab or from inside."""
        return self._hidden(block(self.rows[HIDDEN[key][0]], HIDDEN_AT[key]), inside)

    def _hidden(self, address: str, inside: bool) -> str:
        return address if inside else in_tab(self.texts["book_tab.calculator"], address)

    def filled(self, key: str) -> str:
        """Return the formula of how many lines of a column of the hidden tab hold something."""
        return f'=SUMPRODUCT(--({self.column(key)}<>""))'

    def formula(self, template: str, table: str, index: int, inside: bool = False) -> str:
        """Return a formula of a line, from 0, of a table, as seen from another tab or inside the hidden one.
        template : with `{text KEY}` for what is typed there as text, `{value KEY}` for it as it is and `{is
        KEY=WORD}` for a word of a list; of a column of the hidden tab `{own KEY}` for the cell of the line,
        `{nth KEY}` for the same by its number, `{all KEY}`, `{top KEY}` for the first and `{above KEY}` for
        the one above and a plus; `{line number}`, `{setting KEY}`, and `{say WORD}` for what a check says."""
        row = FIRST_ROW + index

        def text(key: str) -> str:
            return f"TRIM({self._value(table, index, key)})"

        named: dict[str, Callable[[str], str]] = {
            "text": text,
            "value": lambda key: self._value(table, index, key),
            "is": lambda test: is_word(self.texts, text(test.split("=")[0]), test.split("=")[1]),
            "own": lambda key: self._hidden(absolute(row, HIDDEN_AT[key]), inside),
            "nth": lambda key: f"INDEX({self.column(key)},{index + 1})",
            "all": lambda key: self.column(key, inside),
            "top": lambda key: absolute(FIRST_ROW, HIDDEN_AT[key]),
            "above": lambda key: f"{absolute(row - 1, HIDDEN_AT[key])}+" if index else "",
            "line": lambda number: str(index + 1),
            "setting": self.setting,
            "say": lambda word: quoted(self.texts[f"book_check.{word}"]),
        }
        return "=" + _NAMED.sub(lambda match: named[match[1]](match[2]), template)

    def setting(self, key: str) -> str:
        """Return a formula for a setting of the tab Class; one that was cut from there changes nothing."""
        entries = in_tab(self.texts["book_tab.class"], block(len(SETTINGS), 1))
        return f"INDEX({entries},{[setting.key for setting in SETTINGS].index(key) + 1})"

    def _value(self, tab: str, index: int, key: str) -> str:
        # It names a place, so that an entry cut from there changes nothing.
        table = TABLES[tab]
        address = in_tab(self.texts[f"book_tab.{tab}"], block(self.rows[tab], 0, table.width - 1))
        return f"INDEX({address},{index + 1},{table.at(key) + 1})"


def block(rows: int, column: int, last_column: int | None = None) -> str:
    """Return the address of the lines of a table, one column or several."""
    last = column if last_column is None else last_column
    return f"{absolute(FIRST_ROW, column)}:{absolute(FIRST_ROW + rows - 1, last)}"


def is_word(texts: Mapping[str, str], typed: str, code: str) -> str:
    """Return a formula that holds where a text is a word of a list, as the list shows it or the code word."""
    shown = quoted(texts[f"book_word.{code}"])
    plain = f'{typed}="{code}"'
    return plain if shown == f'"{code}"' else f"OR({typed}={shown},{plain})"
