"""Reading the class book back: what the teacher typed, and everything in it that cannot be used."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from sheetgen.class_book.cells_read import (
    Line,
    Reading,
    Row,
    id_key,
    lines_of,
    plain,
    rows_of,
    tab_titled,
    value_of,
)
from sheetgen.class_book.hidden_tab import blocks_off, check_again_by, zero_is_large
from sheetgen.class_book.pairing import Unmet, kept_apart, pairs_for_the_rest
from sheetgen.class_book.table import (
    BLOCKS,
    CALIPERS,
    HIDDEN_AT,
    LEFT,
    MEASURES_ONLY,
    PAIRS,
    ROSTER,
    SETTINGS,
    TABLES,
    ZERO_LIMIT,
    Entry,
    setting_values,
)
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Pairing, Person
from sheetgen.finding import Finding, listed, quoted
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.texts.findings import Catalogue
from sheetgen.texts.languages import Words
from sheetgen.workbook.snapshot import Snapshot

_CLASS_CODE = Entry("class_code", most=20)
_NOBODY = Person("", "", "")
_NO_CALIPER = {"in_service": True}


@dataclass(frozen=True, slots=True)
class BookKnown:
    """What a class book is read by.

    defaults : settings that hold where a cell is empty; their language is the one the book was drawn in.
    texts : those of the class book in that language. kinds : the
        catalogue of findings.
    protocols : those that the class may choose from.
    words : of the lists, in every language that may be chosen; none: code words, and no other language.
    """

    defaults: SheetSettings
    texts: Mapping[str, str]
    kinds: Catalogue
    protocols: Sequence[Protocol]
    words: Words = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BookRead:
    """A class book, and findings with severity and remedy; with an error among them it is not to be used.

    added : pairs, or calipers for pairs, that were not typed: they stand in no cell of the class book yet.
    """

    book: ClassBook
    findings: tuple[Finding, ...]
    added: bool


def class_book_from(snapshot: Snapshot, known: BookKnown, today: str = "") -> BookRead:
    """Return what a class book says, and the faults in it.

    Tabs are found by title and columns by heading, so tabs and lines may be moved and sorted. Where the tab
    Pairs does not name a student as a measurer, pairs are made of those left, in roster order, and stand
    behind those typed. A heading or line of care that is not found is a fault, never taken for an empty one;
    only a class book made before there was a tab Stations may lack the columns that came with it.

    Parameters
    ----------
    today : the day as YYYY-MM-DD; empty: nothing is said of caliper checks that are old or missing.
    """
    identifiers = tuple(protocol.identifier for protocol in known.protocols)
    choices = {"protocol": identifiers, "language": tuple(known.words) or (known.defaults.language,)}
    reading = Reading(known.texts, known.kinds, choices)
    lines = {key: _lines(reading, snapshot, known, key) for key in ("class", *TABLES)}
    book, settings_at = _class_tab(reading, lines["class"], known)
    people = _people(reading, lines["roster"], _codes(snapshot, known.texts))
    calipers, checks = _calipers(reading, lines["calipers"], today)
    book = replace(
        book,
        settings=replace(book.settings, calipers=calipers),
        people=tuple(person for person, _ in people),
        checks=checks,
        demonstration=_demonstration(reading, book.demonstration, people, settings_at),
    )
    added = False
    if not reading.faulty:
        # A fault above would be told again here, once for every pair it touches.
        book, added = _with_pairings(reading, lines["pairs"], book, people)
        _say_stray_ids(reading, book, lines["class"])
    return BookRead(book, tuple(reading.problems), added)


def _lines(reading: Reading, snapshot: Snapshot, known: BookKnown, key: str) -> list[Line]:
    title = known.texts[f"book_tab.{key}"]
    tab = tab_titled(snapshot, title)
    if tab is None:
        there = ", ".join(tab.title for tab in snapshot.tabs)
        reading.say("class-book-tab-missing", title, titles=there, title=title)
        return []
    if key == "class":
        section, columns, later = "setting", ["what", "entry"], list[str]()
    else:
        section, columns = TABLES[key].line, [entry.key for entry in TABLES[key].entries]
        later = [entry.key for entry in TABLES[key].entries if entry.later]
    may_lack = later if tab_titled(snapshot, known.texts["book_tab.stations"]) is None else []
    headings = {column: known.texts[f"book_{section}.{column}"] for column in columns}
    lines, missing = lines_of(tab, headings, may_lack, known.words, known.defaults.language)
    if missing:
        reading.say("class-book-column-missing", title, headings=", ".join(missing))
    return lines


def _codes(snapshot: Snapshot, texts: Mapping[str, str]) -> dict[str, str]:
    """Return the participant codes given out, by id, from the hidden tab: there nothing is moved or typed."""
    tab = tab_titled(snapshot, texts["book_tab.calculator"])
    if tab is None:
        return {}
    columns = HIDDEN_AT["coded_ids"], HIDDEN_AT["given_codes"]
    pairs = (tuple(tab.value(row, column) for column in columns) for row, _ in tab.cells)
    return {id_key(own): code for own, code in pairs if isinstance(own, str) and isinstance(code, str)}


def _class_tab(
    reading: Reading, lines: Sequence[Line], known: BookKnown
) -> tuple[ClassBook, Mapping[str, Line]]:
    """What the tab Class says, one setting a line, found by its label; and the lines by setting."""
    labels = {
        plain(known.texts[f"book_setting.{entry.key}"]): entry.key for entry in (*SETTINGS, _CLASS_CODE)
    }
    labelled = {plain(str(line.cells["what"].value)): line for line in reversed(lines)}
    at = {labels[label]: line for label, line in labelled.items() if label in labels}
    missing = [
        known.texts[f"book_setting.{setting.key}"]
        for setting in SETTINGS
        if not setting.later and setting.key not in at
    ]
    if lines and missing:
        headings = ", ".join(missing)
        reading.say("class-book-column-missing", lines[0].tab, "", "setting", settings=headings)
    values = setting_values(ClassBook("", "", known.defaults, (), ()))
    for setting in SETTINGS:
        key = setting.key
        if key == "conversion":
            words, values[key] = _conversions(values["protocol"], known)
            if not words:
                continue
            setting = replace(setting, words=words)
        if key in at:
            values[key] = value_of(reading, at[key], setting, values[key], "entry")
    code = value_of(reading, at["class_code"], _CLASS_CODE, column="entry") if "class_code" in at else ""
    fields = {setting.field: values[setting.key] for setting in SETTINGS}
    of_sheet = {name.removeprefix("settings."): fields.pop(name) for name in list(fields) if "." in name}
    settings = replace(known.defaults, **of_sheet)
    return ClassBook(code, settings=settings, people=(), pairings=(), **fields), at


def _conversions(protocol_id: str, known: BookKnown) -> tuple[tuple[str, ...], str]:
    """Return the conversions that may be chosen with a protocol, and the one that an empty cell stands for.

    With a protocol that has none, any conversion of another may stay: nothing on a sheet follows from it, and
    a pair with a protocol of its own may need it.
    """
    own = next((each for each in known.protocols if each.identifier == protocol_id), None)
    if own is None or not own.conversions:
        every = (each.identifier for protocol in known.protocols for each in protocol.conversions)
        return tuple(dict.fromkeys(every)), ""
    words = tuple(each.identifier for each in own.conversions)
    return words, known.defaults.conversion if known.defaults.conversion in words else own.default_conversion


def _people(reading: Reading, lines: Sequence[Line], codes: Mapping[str, str]) -> list[tuple[Person, Line]]:
    """The people with their lines. codes : participant codes given out, by the key of the id."""
    defaults = {entry.key: getattr(_NOBODY, entry.key) for entry in ROSTER.entries}
    rows = list(rows_of(reading, lines, ROSTER, defaults))
    ids = {id_key(row.values["student_id"]): row.values["student_id"] for row in rows}
    people: list[tuple[Person, Line]] = []
    for row in rows:
        own, partner = row.values["student_id"], row.values["partner"]
        wished = _known_ids(reading, row, "partner", [partner] if partner else [], ids)
        apart = _known_ids(reading, row, "apart", _split(row.values["apart"], ids), ids)
        values = {**row.values, "partner": "".join(wished), "apart": tuple(apart)}
        people.append((Person(**values, participant_code=codes.get(id_key(own), "")), row.line))
    return people


def _split(text: str, ids: Mapping[str, str]) -> list[str]:
    """Ids with semicolons, commas or blanks between; an id that has a blank or comma in it is taken whole
    between semicolons."""
    found: list[str] = []
    for piece in (piece.strip() for piece in text.split(";")):
        if id_key(piece) in ids:
            found.append(piece)
        else:
            found += piece.replace(",", " ").split()
    return list(dict.fromkeys(found))


def _known_ids(
    reading: Reading, row: Row, column: str, wished: Sequence[str], ids: Mapping[str, str]
) -> list[str]:
    """Ids as the roster writes them; one that is on no line, or the person's own, is a fault."""
    known: list[str] = []
    for wish in wished:
        if id_key(wish) in ids and id_key(wish) != id_key(row.values["student_id"]):
            known.append(ids[id_key(wish)])
        else:
            reading.say("class-book-wish-unknown", row.line, column, id=quoted(wish[:40]))
    return known


def _calipers(
    reading: Reading, lines: Sequence[Line], today: str
) -> tuple[tuple[Caliper, ...], tuple[CaliperCheck, ...]]:
    """The register, and the checks on record; what a check says is a warning."""
    calipers: list[Caliper] = []
    checks: list[CaliperCheck] = []
    for row in rows_of(reading, lines, CALIPERS, _NO_CALIPER):
        values = row.values
        blocks = [(block, values.pop(f"block_{block:g}")) for block in BLOCKS]
        check = CaliperCheck(
            values["identifier"],
            tuple((block, number) for block, number in blocks if number is not None),
            values.pop("checked_on"),
            values.pop("checked_by"),
        )
        if None in values.values():
            continue
        caliper = Caliper(**values)
        calipers.append(caliper)
        if check.blocks or check.checked_on or check.checked_by:
            checks.append(check)
        if caliper.in_service:
            _say_of_caliper(reading, row.line, caliper, check, today)
    return tuple(calipers), tuple(checks)


def _say_of_caliper(reading: Reading, line: Line, caliper: Caliper, check: CaliperCheck, today: str) -> None:
    name, zero = caliper.identifier, caliper.zero
    if zero_is_large(caliper):
        reading.say("class-book-caliper-zero", line, "zero", caliper=name, zero=zero, limit=ZERO_LIMIT)
    for block, number in blocks_off(caliper, check):
        reading.say(
            "class-book-caliper-block", line, f"block_{block:g}", caliper=name, reading=number, block=block,
            zero=zero, division=caliper.division,
        )  # fmt: skip
    if today and not check.checked_on:
        reading.say("class-book-check-missing", line, "checked_on", caliper=name)
    elif today and check_again_by(check) < today:
        reading.say("class-book-check-old", line, "checked_on", caliper=name, day=check.checked_on)


def _demonstration(
    reading: Reading, typed: str, people: Sequence[tuple[Person, Line]], settings_at: Mapping[str, Line]
) -> str:
    """The id as the roster writes it; nobody who left or only measures is measured by everybody."""
    if not typed:
        return ""
    person = next((each for each, _ in people if id_key(each.student_id) == id_key(typed)), None)
    if person is None:
        fault = "unknown"
    elif person.status == LEFT:
        fault = "left"
    elif person.takes_part == MEASURES_ONLY:
        fault = "measures-only"
    else:
        return person.student_id
    reading.say("class-book-demonstration", settings_at["demonstration"], "entry", fault, id=quoted(typed))
    return ""


def _say_stray_ids(reading: Reading, book: ClassBook, lines: Sequence[Line]) -> None:
    """Ids of a declared group that are not on the roster."""
    known = {id_key(person.student_id) for person in book.people}
    for stray in (each for group in book.declared for each in group if id_key(each) not in known):
        value = stray[:40]
        reading.say("class-book-pair-unknown", lines[0].tab, "", "declared", id=quoted(value))


def _with_pairings(
    reading: Reading, lines: Sequence[Line], book: ClassBook, people: Sequence[tuple[Person, Line]]
) -> tuple[ClassBook, bool]:
    """The book with the pairings typed, then those made for students who measure nobody yet; and whether a
    pair or its caliper was not typed.

    A line without a caliper gets the next one in service, in turn by line. A line that names someone who left
    is left out and said so.
    """
    issued = [caliper.identifier for caliper in book.settings.calipers if caliper.in_service]
    apart = kept_apart(book.people)
    pairings: list[Pairing] = []
    places: dict[tuple[str, str], int] = {}
    spares: dict[str, int] = {}
    chosen = False
    for number, row in enumerate(rows_of(reading, lines, PAIRS, {})):
        pairing = _pairing(reading, row, book, issued[number % len(issued)] if issued else "")
        if pairing is None:
            continue
        chosen = chosen or not row.values["caliper"]
        pairings.append(pairing)
        line, pair = row.line, (pairing.measurer, pairing.participant)
        who = {"measurer": pairing.measurer, "participant": pairing.participant}
        above = places.setdefault(pair, line.row + 1)
        if above != line.row + 1:
            reading.say("class-book-pair-twice", line, "measurer", **who, line=above)
        above = spares.setdefault(pairing.spare, line.row + 1) if pairing.spare else line.row + 1
        if above != line.row + 1:
            spare = pairing.spare
            reading.say("class-book-spare", line, "spare", "twice", code=spare, line=above)
        if pairing.participant in apart.get(pairing.measurer, ()):
            reading.say("class-book-pair-apart", line, "participant", **who)
    if reading.faulty:
        return replace(book, pairings=tuple(pairings)), chosen
    made = pairs_for_the_rest(
        book.people, pairings, book.settings.calipers, book.group_size, book.demonstration
    )
    _say_unmet(reading, made.unmet, pairings, people, bool(issued))
    return replace(book, pairings=(*pairings, *made.pairings)), chosen or bool(made.pairings)


def _pairing(reading: Reading, row: Row, book: ClassBook, next_caliper: str) -> Pairing | None:
    """A line of the tab Pairs; None where it has a fault, or names someone who left."""
    line, values = row.line, row.values
    if row.faulty & {"measurer", "participant", "caliper"}:
        return None
    before = len(reading.problems)
    people = {id_key(person.student_id): person for person in book.people}
    named: dict[str, Person] = {}
    for key in ("measurer", "participant"):
        if id_key(values[key]) in people:
            named[key] = people[id_key(values[key])]
        elif values[key]:
            reading.say("class-book-pair-unknown", line, key, id=quoted(values[key]))
        else:
            reading.say("class-book-pair-incomplete", line, key, key)
    if values["measurer"] and id_key(values["measurer"]) == id_key(values["participant"]):
        reading.say("class-book-pair-self", line, "participant")
    left = {key: person.student_id for key, person in named.items() if person.status == LEFT}
    if left and len(reading.problems) == before:
        # Nothing else that stands on the line is looked at.
        del reading.problems[row.before :]
        who_left = listed(tuple(left.values()), "and")
        reading.say("class-book-pair-left", line, next(iter(left)), line=line.row + 1, people=who_left)
        return None
    if "participant" in named and named["participant"].takes_part == MEASURES_ONLY:
        person = named["participant"].student_id
        reading.say("class-book-pair-measures-only", line, "participant", id=quoted(person))
    caliper = _caliper(reading, line, values["caliper"], book.settings.calipers, next_caliper)
    if row.faulty or len(reading.problems) > before:
        return None
    who = named["measurer"].student_id, named["participant"].student_id
    return Pairing(*who, caliper, values["protocol"], values["spare"])


def _caliper(reading: Reading, line: Line, typed: str, calipers: Sequence[Caliper], next_caliper: str) -> str:
    if not typed:
        if not next_caliper:
            reading.say("class-book-no-caliper", line, "caliper")
        return next_caliper
    known = {id_key(caliper.identifier): caliper for caliper in calipers}
    caliper = known.get(id_key(typed))
    if caliper is not None and caliper.in_service:
        return caliper.identifier
    case = "unknown" if caliper is None else ""
    reading.say("class-book-pair-caliper", line, "caliper", case, id=quoted(typed))
    return ""


def _say_unmet(
    reading: Reading,
    unmet: Sequence[Unmet],
    pairings: Sequence[Pairing],
    people: Sequence[tuple[Person, Line]],
    any_caliper: bool,
) -> None:
    """Warnings on the lines of the tab Roster; without any caliper one error instead."""
    lines = {person.student_id: line for person, line in people}
    measurers = {pairing.measurer for pairing in pairings}
    waiting = [
        person.student_id
        for person, _ in people
        if person.role != "teacher" and person.status != LEFT and person.student_id not in measurers
    ]
    if waiting and not any_caliper:
        line = lines[waiting[0]]
        reading.say("class-book-no-caliper", line, "student_id", "waiting", count=len(waiting))
        return
    for each in unmet:
        line, who = lines[each.student_id], each.student_id
        if each.reason == "partner":
            reading.say("class-book-wish-unmet", line, "partner", person=who, other=each.other)
        else:
            reading.say("class-book-unpaired", line, "student_id", each.reason, person=who)
