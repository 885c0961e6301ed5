"""Reading the class book back: what the teacher typed, and everything in it that cannot be used."""

from collections.abc import Collection, Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from sheetgen.class_book import table
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
from sheetgen.class_book.live_tabs import blocks_off, check_again_by, zero_is_large
from sheetgen.class_book.pairing import kept_apart, pairs_for_the_rest, unpaired
from sheetgen.class_folder.keep import distinct
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Pairing, Person
from sheetgen.finding import Finding, listed, quoted
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.texts.findings import Catalogue
from sheetgen.texts.languages import Words
from sheetgen.workbook.snapshot import Snapshot

_CLASS_CODE = table.Entry("class_code", most=20)
_NOBODY = Person("", "", "")
_PERSON_DEFAULTS = {entry.key: getattr(_NOBODY, entry.key) for entry in table.ROSTER.entries}

People = Mapping[Person, Line]
"""The people of the roster with their lines."""


class BookKnown(Struct, frozen=True):
    """What a class book is read by. defaults : settings that hold where a cell is empty; their language is
    the one the book was drawn in. texts : those of the class book in that language. kinds : the catalogue of
    findings. protocols : those that the class may choose from, the one of the defaults among them. words : of
    the lists, in every language that may be chosen; none: code words, and no other language."""

    defaults: SheetSettings
    texts: Mapping[str, str]
    kinds: Catalogue
    protocols: Sequence[Protocol]
    words: Words = field(default_factory=dict)


class BookRead(Struct, frozen=True):
    """A class book, and findings with severity and remedy; with an error among them it is not to be used.
    added : pairs, or calipers for pairs, that were not typed: they stand in no cell of the class book yet."""

    book: ClassBook
    findings: tuple[Finding, ...]
    added: bool


def class_book_from(snapshot: Snapshot, known: BookKnown, today: str = "") -> BookRead:
    """Return what a class book says, and the faults in it. Tabs are found by title and columns by heading, so
    tabs and lines may be moved and sorted. Where the tab Pairs does not name a student as a measurer, pairs
    are made of those left, in roster order, and stand behind those typed. A heading or line that is not found
    is a fault, never taken for an empty one, but for those that came later (`Entry`). today : the day as
    YYYY-MM-DD; empty: nothing is said of caliper checks that are old or missing."""
    choices = table.choices_of(known.protocols, tuple(known.words) or (known.defaults.language,))
    reading = Reading(known.texts, known.kinds, choices)
    tables = table.CLASS_TAB, *table.TABLES.values()
    lines = {each.key: _lines(reading, snapshot, known, each) for each in tables}
    book, settings_at = _class_tab(reading, lines["class"], known)
    codes, drawings = _hidden(snapshot, known.texts)
    people = _people(reading, lines["roster"], codes)
    calipers, checks = _calipers(reading, lines["calipers"], today)
    book = replace(
        book,
        settings=replace(book.settings, calipers=calipers),
        people=(*people, *_teacher_to_be(book, people)),
        checks=checks,
        drawings=drawings,
        demonstration=_demonstration(reading, book.demonstration, people, settings_at),
        teacher_measures=_teacher_measures(reading, "".join(book.teacher_measures), people, settings_at),
    )
    added = False
    if not reading.faulty:
        # A fault above would be told again here, once for every pair it touches.
        book, added = _with_pairings(reading, lines["pairs"], book, people)
        ids = {id_key(person.student_id) for person in people}
        for stray in (each for group in book.declared for each in group if id_key(each) not in ids):
            title = known.texts["book_tab.class"]
            reading.say("class-book-pair-unknown", title, "", "declared", id=quoted(stray[:40]))
    return BookRead(book, tuple(reading.problems), added)


def _lines(reading: Reading, snapshot: Snapshot, known: BookKnown, asked: table.Table) -> list[Line]:
    title = known.texts[f"book_tab.{asked.key}"]
    tab = tab_titled(snapshot, title)
    if tab is None:
        there = ", ".join(tab.title for tab in snapshot.tabs)
        reading.say("class-book-tab-missing", title, titles=there, title=title)
        return []
    earlier = tab_titled(snapshot, known.texts["book_tab.stations"]) is None
    may_lack = [entry.key for entry in asked.entries if entry.may_lack or (entry.later and earlier)]
    headings = {entry.key: known.texts[f"book_{asked.line}.{entry.key}"] for entry in asked.entries}
    lines, missing = lines_of(tab, headings, may_lack, known.words)
    if missing:
        reading.say("class-book-column-missing", title, headings=", ".join(missing))
    return lines


def _hidden(snapshot: Snapshot, texts: Mapping[str, str]) -> tuple[dict[str, str], int]:
    """From the hidden tab, where nothing is moved or typed: the participant codes given out, by the key of
    the id, and how often the class book was drawn, 0 where it does not say."""
    tab = tab_titled(snapshot, texts["book_tab.calculator"])
    if tab is None:
        return {}, 0
    columns = table.HIDDEN_AT["coded_ids"], table.HIDDEN_AT["given_codes"]
    pairs = (tuple(tab.value(row, column) for column in columns) for row, _ in tab.cells)
    codes = {id_key(own): code for own, code in pairs if isinstance(own, str) and isinstance(code, str)}
    drawn = tab.value(table.FIRST_ROW, table.HIDDEN_AT["drawings"])
    return codes, int(drawn) if isinstance(drawn, int | float) else 0


def _class_tab(
    reading: Reading, lines: Sequence[Line], known: BookKnown
) -> tuple[ClassBook, Mapping[str, Line]]:
    """What the tab Class says, one setting a line, found by its label; and the lines by setting."""
    labels = {entry.key: known.texts[f"book_setting.{entry.key}"] for entry in (*table.SETTINGS, _CLASS_CODE)}
    labelled = {plain(str(line.cells["what"].value)): line for line in reversed(lines)}
    at = {key: labelled[plain(label)] for key, label in labels.items() if plain(label) in labelled}
    missing = [labels[entry.key] for entry in table.SETTINGS if not entry.later and entry.key not in at]
    if lines and missing:
        reading.say("class-book-column-missing", lines[0].tab, "", "setting", settings=", ".join(missing))
    values = table.setting_values(ClassBook("", "", known.defaults, (), ()))
    for setting in table.SETTINGS:
        key = setting.key
        if key == "conversion":
            # With a protocol that has none, any of another may stay: nothing on a sheet follows from it, and
            # a pair with a protocol of its own may need it.
            own = next(each for each in known.protocols if each.identifier == values["protocol"])
            setting = replace(setting, words=tuple(each.identifier for each in own.conversions))
            if values[key] not in setting.words:
                values[key] = own.default_conversion
        if key in at:
            values[key] = value_of(reading, at[key], setting, values[key], "entry")
    code = value_of(reading, at["class_code"], _CLASS_CODE, column="entry") if "class_code" in at else ""
    of_book = {setting.field: values[setting.key] for setting in table.SETTINGS}
    of_sheet = {name.removeprefix("settings."): of_book.pop(name) for name in list(of_book) if "." in name}
    settings = replace(known.defaults, **of_sheet)
    return ClassBook(code, settings=settings, people=(), pairings=(), **of_book), at


def _people(reading: Reading, lines: Sequence[Line], codes: Mapping[str, str]) -> dict[Person, Line]:
    """codes : participant codes given out, by the key of the id."""
    rows = list(rows_of(reading, lines, table.ROSTER, _PERSON_DEFAULTS))
    ids = {id_key(row.values["student_id"]): row.values["student_id"] for row in rows}
    people: dict[Person, Line] = {}
    for row in rows:
        values, own = row.values, id_key(row.values["student_id"])
        partner = [values["partner"]] if values["partner"] else []
        named = {"partner": partner, "apart": _split(values["apart"], ids)}
        for column, wished in named.items():
            known = [wish for wish in wished if id_key(wish) in ids and id_key(wish) != own]
            for stray in (wish for wish in wished if wish not in known):
                reading.say("class-book-wish-unknown", row.line, column, id=quoted(stray[:40]))
            named[column] = [ids[id_key(wish)] for wish in known]
        values |= {"partner": "".join(named["partner"]), "apart": tuple(named["apart"])}
        people[Person(**values, participant_code=codes.get(own, ""))] = row.line
    return people


def _split(text: str, ids: Collection[str]) -> list[str]:
    """Ids with semicolons, commas or blanks between; one that holds a blank or comma between semicolons."""
    found: list[str] = []
    for piece in map(str.strip, text.split(";")):
        found += [piece] if id_key(piece) in ids else piece.replace(",", " ").split()
    return list(dict.fromkeys(found))


def _calipers(
    reading: Reading, lines: Sequence[Line], today: str
) -> tuple[tuple[Caliper, ...], tuple[CaliperCheck, ...]]:
    """The register, and the checks on record; what a check says is a warning."""
    calipers: list[Caliper] = []
    checks: list[CaliperCheck] = []
    for row in rows_of(reading, lines, table.CALIPERS, {"in_service": True}):
        values = {name: row.values[name] for name in Caliper.__struct_fields__}
        if None in values.values():
            continue
        caliper, line = Caliper(**values), row.line
        calipers.append(caliper)
        name, zero, day = caliper.identifier, caliper.zero, row.values["checked_on"]
        read = ((block, row.values[f"block_{block:g}"]) for block in table.BLOCKS)
        blocks = tuple((block, number) for block, number in read if number is not None)
        check = CaliperCheck(name, blocks, day, row.values["checked_by"])
        checks += [check] if check != CaliperCheck(name) else []
        if not caliper.in_service:
            continue
        if zero_is_large(caliper):
            reading.say(
                "class-book-caliper-zero", line, "zero", caliper=name, zero=zero, limit=table.ZERO_LIMIT
            )
        for block, number in blocks_off(caliper, check):
            reading.say(
                "class-book-caliper-block", line, f"block_{block:g}", caliper=name, reading=number,
                block=block, zero=zero, division=caliper.division,
            )  # fmt: skip
        if today and not day:
            reading.say("class-book-check-missing", line, "checked_on", caliper=name)
        elif today and check_again_by(check) < today:
            reading.say("class-book-check-old", line, "checked_on", caliper=name, day=day)
    return tuple(calipers), tuple(checks)


def _demonstration(reading: Reading, typed: str, people: People, settings_at: Mapping[str, Line]) -> str:
    """The id as the roster writes it; nobody who left is measured by everybody."""
    person = next((each for each in people if id_key(each.student_id) == id_key(typed)), None)
    fault = "unknown" if person is None else person.status
    if typed and fault:
        who = quoted(typed)
        reading.say("class-book-demonstration", settings_at["demonstration"], "entry", fault, id=who)
    return "" if person is None or fault else person.student_id


def _teacher_measures(
    reading: Reading, typed: str, people: People, settings_at: Mapping[str, Line]
) -> tuple[str, ...]:
    """The ids of those whom the teacher measures, named by id or code; nobody who left."""
    known = {id_key(code): one for one in people for code in (one.participant_code, one.student_id) if code}
    found = {wished: known.get(id_key(wished)) for wished in _split(typed, known)}
    for stray in (wished for wished, person in found.items() if person is None):
        line, who = settings_at["teacher_measures"], quoted(stray[:40])
        reading.say("class-book-demonstration", line, "entry", "unknown", id=who)
    there = (person.student_id for person in found.values() if person and person.status != table.LEFT)
    return tuple(dict.fromkeys(there))


def _teacher_to_be(book: ClassBook, people: People) -> list[Person]:
    """A teacher, where one is to measure and the roster has none."""
    if not book.teacher_measures or any(one.role == "teacher" for one in people):
        return []
    ids = {id_key(one.student_id) for one in people}
    return [Person(distinct(ids, lambda number: f"teacher{number or ''}"), "", "", role="teacher")]


def _with_pairings(
    reading: Reading, lines: Sequence[Line], book: ClassBook, people: People
) -> tuple[ClassBook, bool]:
    """The book with the pairings typed, then those made for students who measure nobody yet; and whether a
    pair or its caliper was not typed. A line without a caliper gets the next one in service, in turn by line.
    A line that names someone who left is left out and said so. A line that names another measurer changes
    places with theirs."""
    issued = [caliper.identifier for caliper in book.settings.calipers if caliper.in_service]
    apart, by_id = kept_apart(book.people), {id_key(person.student_id): person for person in people}
    lines_read: list[tuple[Row, Pairing]] = []
    above: dict[tuple[str, ...], int] = {}
    chosen = False
    for number, row in enumerate(rows_of(reading, lines, table.PAIRS, {})):
        pairing = _pairing(reading, row, book, by_id, issued[number % len(issued)] if issued else "")
        if pairing is None:
            continue
        chosen = chosen or not row.values["caliper"] or row.values["instead"] != ""
        lines_read.append((row, pairing))
    pairings = _swapped(reading, lines_read)
    for (row, _), pairing in zip(lines_read, pairings, strict=True):
        line, spare, own = row.line, pairing.spare, row.line.row + 1
        who = {"measurer": pairing.measurer, "participant": pairing.participant}
        other = above.setdefault(tuple(who.values()), own)
        if other != own:
            reading.say("class-book-pair-twice", line, "measurer", **who, line=other)
        other = above.setdefault((spare,), own) if spare else own
        if other != own:
            reading.say("class-book-spare", line, "spare", "twice", code=spare, line=other)
        if pairing.participant in apart.get(pairing.measurer, ()):
            reading.say("class-book-pair-apart", line, "participant", **who)
    book = replace(book, pairings=tuple(pairings))
    if reading.faulty:
        return book, chosen
    made = pairs_for_the_rest(book)
    waiting = unpaired(book)
    if waiting and not issued:
        line = people[waiting[0]]
        reading.say("class-book-no-caliper", line, "student_id", "waiting", count=len(waiting))
    line_of = {person.student_id: line for person, line in people.items()}
    for each in made.unmet:
        line, person = line_of[each.student_id], each.student_id
        if each.reason == "partner":
            reading.say("class-book-wish-unmet", line, "partner", person=person, other=each.other)
        else:
            reading.say("class-book-unpaired", line, "student_id", each.reason, person=person)
    return replace(book, pairings=(*pairings, *made.pairings)), chosen or bool(made.pairings)


def _swapped(reading: Reading, lines: Sequence[tuple[Row, Pairing]]) -> list[Pairing]:
    """The pairings after each line that names who shall measure instead: the two measurers change places, and
    participant, caliper and protocol stay. In a round of three, where one would come to measure themselves,
    the round is turned."""
    pairings = [pairing for _, pairing in lines]
    for at, (row, _) in enumerate(lines):
        here, wanted = pairings[at], id_key(row.values["instead"])
        if not wanted or wanted == id_key(here.measurer):
            continue
        theirs = [place for place, each in enumerate(pairings) if id_key(each.measurer) == wanted]
        moved = [at, *theirs[:1]]
        if theirs and pairings[theirs[0]].participant == here.measurer:
            of_theirs = (place for place, each in enumerate(pairings) if id_key(each.participant) == wanted)
            moved.insert(1, next(of_theirs, at))
        measurers = [pairings[place].measurer for place in (moved[-1], *moved[:-1])]
        new = [replace(pairings[place], measurer=who) for place, who in zip(moved, measurers, strict=True)]
        alone = any(each.measurer == each.participant or each.spare for each in new)
        if alone or len(set(moved)) < max(2, len(moved)):
            reading.say("class-book-swap", row.line, "instead", id=quoted(row.values["instead"][:40]))
            continue
        for place, pairing in zip(moved, new, strict=True):
            pairings[place] = pairing
    return pairings


def _pairing(
    reading: Reading, row: Row, book: ClassBook, people: Mapping[str, Person], next_caliper: str
) -> Pairing | None:
    """A line of the tab Pairs; None where it has a fault, or names someone who left. people : by id key."""
    line, values = row.line, row.values
    if row.faulty & {"measurer", "participant", "caliper"}:
        return None
    before = len(reading.problems)
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
    left = {key: person.student_id for key, person in named.items() if person.status == table.LEFT}
    if left and len(reading.problems) == before:
        # Nothing else that stands on the line is looked at.
        del reading.problems[row.before :]
        who_left = listed(tuple(left.values()), "and")
        reading.say("class-book-pair-left", line, next(iter(left)), line=line.row + 1, people=who_left)
        return None
    typed, register = values["caliper"], {id_key(each.identifier): each for each in book.settings.calipers}
    caliper = register.get(id_key(typed or next_caliper))
    if not typed and not next_caliper:
        reading.say("class-book-no-caliper", line, "caliper")
    elif caliper is None or not caliper.in_service:
        case = "" if caliper else "unknown"
        reading.say("class-book-pair-caliper", line, "caliper", case, id=quoted(typed))
    if caliper is None or row.faulty or len(reading.problems) > before:
        return None
    who = named["measurer"].student_id, named["participant"].student_id
    return Pairing(*who, caliper.identifier, values["protocol"], values["spare"])
