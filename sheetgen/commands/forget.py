"""Remove every body value and all free text of files first read before a day; keep marks and the class."""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import date
from functools import partial
from pathlib import Path

from msgspec import Struct, field

from sheetgen.class_folder import decisions as journal
from sheetgen.class_folder.files import remove_file, sha256_of
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.keep import arrival_days, load_records
from sheetgen.class_folder.records import CopyRecord
from sheetgen.class_folder.scores import load_scores
from sheetgen.errors import FolderError
from sheetgen.returned.corrections import number_in
from sheetgen.returned.incoming import PACKAGES, Incoming, open_returned
from sheetgen.returned.one_file import attempts_from
from sheetgen.returned.typed_in import forms_in, with_typed_forms
from sheetgen.returned.whose import OnRecord, on_record
from sheetgen.review.taking_over import not_taken_over

_OF_SESSION = re.compile(r"(?:returned|results|review|sheets)/session-([1-9]\d?)(?!\d)")
_POINTS = re.compile(r"results/session-\d+/(marks|marks-by-item|slips)\.csv")
_KEPT = (
    (r"class(\.kept-\d)?\.xlsx", "class.xlsx", "people and settings; no body values"),
    (r"read-me-first\.txt", "read-me-first.txt", "one page to begin with"),
    (r"launchers/.*", "launchers/", "they start a command"),
    (r"keep/scores\.csv", "keep/scores.csv", "scores and their items, for method and arithmetic"),
    (r"keep/slips\.csv", "keep/slips.csv", "slips by line, for method and arithmetic"),
    (r"keep/marks/.*", "keep/marks/", "the last three marks.csv of a session, with names"),
    (r"keep/precision\.csv", "keep/precision.csv", "the class as a whole, sites with five people or more"),
    (r"keep/arrivals\.csv", "keep/arrivals.csv", "the day each file was first read"),
    (
        r"keep/.*",
        "keep/",
        "codes, roster, what was handed out, your scheme and protocols, sign-offs, the measurers' record",
    ),
    (r"review/decisions\.csv", "review/decisions.csv", "points, marks, and which file counts"),
    (_POINTS.pattern, "results/", "points and slips, for method and arithmetic"),
)
"""Pattern, what it is called, and why it stays."""
_COMMENTS = "points, marks, which file counts, and comments, which may hold anything"
_AS_HANDED_OUT = "sheets/", "as handed out: codes and invented practice readings"
_OLD_MEMORY = "session-*/known-files.bin"
"""What earlier versions remembered of returned files, with body values; nothing reads it any more."""
_LOCK = re.compile(r"~\$.*|\.~lock\..*#")
_PART = re.compile(r"\.[0-9a-f]{16}\.part")


class Forgotten(Struct, frozen=True):
    """Paths inside the class folder, removed or to be removed, and what stays with the reason.
    returned : files that came back. derived : what was worked out of them or typed about them. lines : of the
    journal whose values go. kept : of use and without body values. left : to be looked at."""

    returned: tuple[str, ...] = ()
    derived: tuple[str, ...] = ()
    lines: int = 0
    kept: tuple[tuple[str, str], ...] = ()
    left: tuple[tuple[str, str], ...] = ()


class _Session(Struct):
    """What came back in a session. old, recent : first read before the day, or not. unread : never read.
    loose : side-files and what has no bytes that could be known: they go with the last file. elsewhere : a
    sheet of it that lies in the folder of another session goes."""

    number: int
    old: list[Path] = field(default_factory=list)
    recent: list[Path] = field(default_factory=list)
    unread: list[Path] = field(default_factory=list)
    loose: list[Path] = field(default_factory=list)
    over: bool = False
    elsewhere: bool = False

    @property
    def touched(self) -> bool:
        return self.over or self.elsewhere or bool(self.old)


def forget_before(
    folder: ClassFolder, before: date, write: bool = False, keep_comments: bool = False
) -> Forgotten:
    """Remove what was first read before a day: returned files, and every body value and free text elsewhere.
    before : files first read on an earlier day go. write : remove; without it only say what would go.
    keep_comments : comments to students stay in the journal. FolderError : a review workbook was typed into
    since it was read; or a file cannot be removed or written. A session that loses a file loses its results,
    which `read` makes anew from what is left, its review workbook with every copy, and in the journal the
    values that were typed about sheets whose files are gone. When its last file goes, so do sheets in sheets/
    that are not as they were handed out. Later sessions lose their results too: they tell the change since
    this one."""
    sessions, handed_out = _sessions(folder, before.isoformat()), _as_handed_out(folder)
    touched = {number for number, session in sessions.items() if session.touched}
    for number in sorted(touched):
        if count := not_taken_over(folder, number):
            remedy = f"Run `sheetgen read {folder.typed} --session {number}` first, so that no score is lost."
            found = f"entries typed since it was read: {count}"
            raise FolderError(folder.review(number), found, "a review workbook that was read", remedy)
    returned = [path for one in sessions.values() for path in (*one.old, *(one.loose if one.over else ()))]
    derived = [path for path in _files(folder.root) if _goes(folder, path, sessions, handed_out)]
    derived = [path for path in derived if path not in returned]
    # What was decided about files that are not forgotten stays, whatever folder they lie in.
    staying = {
        record.copy_code
        for number, session in (sessions.items() if touched else ())
        for record in _sheets_in(folder, number, (*session.recent, *session.unread))
    }

    def forgets(decision: journal.Decision) -> tuple[str, ...]:
        if decision.session not in touched or decision.subject in staying:
            return ()
        return _columns_forgotten(decision, keep_comments)

    lines = journal.forget_in_journal(folder, forgets, write)
    if write:
        for path in (*derived, *returned):
            remove_file(path)
        _remove_empty(folder, touched)
    gone = {*returned, *derived}
    paths = [path for path in _files(folder.root) if path not in gone]
    kept, left = _stays(folder, paths, sessions, handed_out, f"{before}")
    if keep_comments:
        kept = {name: _COMMENTS if name == "review/decisions.csv" else why for name, why in kept.items()}
    if touched:
        left |= {
            f"review/decisions.csv:{line}": "a line that cannot be understood; look at it yourself"
            for line, _ in journal.read_decisions(folder).damaged
        }
    came, made = (tuple(_inside(folder, path) for path in sorted(paths)) for paths in (returned, derived))
    return Forgotten(came, made, lines, tuple(kept.items()), tuple(left.items()))


def _files(root: Path) -> list[Path]:
    return sorted(path for path in root.rglob("*") if path.is_symlink() or path.is_file())


def _inside(folder: ClassFolder, path: Path) -> str:
    return path.relative_to(folder.root).as_posix()


def _number(folder: ClassFolder, path: Path) -> int:
    match = _OF_SESSION.match(_inside(folder, path))
    return int(match[1]) if match else 0


def _sessions(folder: ClassFolder, before: str) -> dict[int, _Session]:
    """Every session there is something of, and whether the last file of it goes."""
    days, known = arrival_days(folder), on_record(folder)
    scores = load_scores(folder)
    numbers = {_number(folder, path) for path in _files(folder.root)} | {one.session for one in scores}
    sessions = {number: _Session(number) for number in sorted(numbers - {0})}
    for session in sessions.values():
        for path in _files(folder.returned(session.number)):
            read = _days_of(folder, path, session.number, days, known)
            if not read:
                session.loose.append(path)
            elif "" in read:
                session.unread.append(path)
            else:
                (session.old if max(read) < before else session.recent).append(path)
        scored = [one.scored_on for one in scores if one.session == session.number]
        dated = session.old or scored or folder.results(session.number).is_dir()
        late = not session.old and any(day >= before for day in scored)
        session.over = bool(dated) and not (session.recent or session.unread or late)
    for session in tuple(sessions.values()):
        for record in _sheets_in(folder, session.number, session.old):
            sessions.setdefault(record.session, _Session(record.session)).elsewhere = True
    return sessions


def _days_of(
    folder: ClassFolder, path: Path, session: int, days: Mapping[str, str], known: OnRecord
) -> list[str]:
    """The day each file in a file was first read, empty where it never was; nothing of a side-file."""
    label = path.relative_to(folder.returned(session)).as_posix()
    if path.is_symlink() or any(step.lower().endswith(PACKAGES) for step in label.split("/")[:-1]):
        return []
    with open_returned(path, label) as came:
        digests = [(one, sha256_of(data)) for one in came.files if isinstance(data := one.read(), bytes)]
        return [day for one, digest in digests for day in _days_read(one, days.get(digest, ""), days, known)]


def _days_read(file: Incoming, day: str, days: Mapping[str, str], known: OnRecord) -> list[str]:
    """The day of a file, or of each form that was typed into it."""
    forms = None if day else forms_in(file, known)
    if forms is None:
        return [day]
    return [days.get(sha256_of(data), "") for form in forms if isinstance(data := form.read(), bytes)]


def _goes(
    folder: ClassFolder, path: Path, sessions: Mapping[int, _Session], handed_out: Collection[Path]
) -> bool:
    """Whether a file that is none of those returned is removed."""
    name, number = _inside(folder, path), _number(folder, path)
    if _PART.fullmatch(path.name) or path.match(f"results/{_OLD_MEMORY}"):
        return True
    top = name.partition("/")[0]
    session = sessions.get(number)
    if _LOCK.fullmatch(path.name) and top in ("sheets", "review", "results"):
        return any(one.touched for one in sessions.values())
    if session is None or top == "returned":
        return False
    if top == "results":
        earlier = any(one.touched for one in sessions.values() if one.number <= number)
        return earlier and not _POINTS.fullmatch(name)
    if top == "review":
        return session.touched
    return session.over and path not in handed_out


def _as_handed_out(folder: ClassFolder) -> frozenset[Path]:
    """The files in sheets/ whose bytes are on record; prints and lists are not: `build` makes them anew."""
    digests = {build.file_sha256 for builds in load_records(folder).values() for build in builds}
    return frozenset(
        path
        for path in _files(folder.root / "sheets")
        if not path.is_symlink() and sha256_of(path.read_bytes()) in digests
    )


def _sheets_in(folder: ClassFolder, number: int, paths: Iterable[Path]) -> Iterator[CopyRecord]:
    """The sheets on record that files in the folder of a session are; some are of another session."""
    place, known = folder.returned(number), on_record(folder)
    for path in paths:
        with open_returned(path, path.relative_to(place).as_posix()) as came:
            pairs = zip(attempts_from(came.files, known), came.files, strict=True)
            read = partial(attempts_from, known=known)
            attempts = [attempt for attempt, _ in with_typed_forms(pairs, known, read)]
        yield from (attempt.record for attempt in attempts if attempt.record is not None)


def _columns_forgotten(decision: journal.Decision, keep_comments: bool) -> tuple[str, ...]:
    """The columns of a line of the journal that may hold a body value or free text."""
    kind, value = decision.kind, decision.value
    usable = {
        "comment": keep_comments,
        "correction": False,
        "mark": number_in(value) is not None,
        "answer-mark": number_in(value) is not None,
        "signed-off": journal.is_day(value),
    }.get(kind, value in (*journal.FILE_WORDS, *journal.CONFIRM_WORDS))
    by_hand = kind == "correction"
    goes = {
        "value": not usable,
        "reason": True,
        # Typed by hand: what is no name and no code may be a sentence.
        "name": by_hand and not re.fullmatch(r"[a-z0-9_]+", decision.name),
        "subject": by_hand and not re.fullmatch(r"[A-Z0-9]{4}-?[A-Z0-9]{4}", decision.subject),
        # A digest without a key tells a short answer to whoever tries.
        "ground": kind == "answer-mark" and not decision.ground.startswith("k"),
    }
    return tuple(column for column, of_line in goes.items() if of_line and getattr(decision, column))


def _stays(
    folder: ClassFolder,
    paths: Sequence[Path],
    sessions: Mapping[int, _Session],
    handed_out: Collection[Path],
    before: str,
) -> tuple[dict[str, str], dict[str, str]]:
    """What is kept and what is left, each with the reason; many files of a kind are one line."""
    kept: dict[str, str] = {}
    left: dict[str, str] = {}
    for path in paths:
        name, session = _inside(folder, path), sessions.get(_number(folder, path))
        found = next(((title, why) for pattern, title, why in _KEPT if re.fullmatch(pattern, name)), None)
        found = _AS_HANDED_OUT if path in handed_out else found
        if found:
            kept[found[0]] = found[1]
        elif session and path in session.unread:
            left[name] = "never read: run `sheetgen read` first"
        elif session and not session.over:
            place = "/".join(name.split("/")[:2])
            left[place] = f"of files first read on {before} or later, or not come back yet"
        else:
            left[name] = "not made here; look at it yourself"
    return kept, left


def _remove_empty(folder: ClassFolder, touched: Collection[int]) -> None:
    """Remove folders that hold nothing any more: platforms name them after people."""
    places = [place(number) for number in touched for place in (folder.returned, folder.results)]
    below = (path for place in places for path in place.rglob("*") if path.is_dir() and not path.is_symlink())
    for path in sorted(below, reverse=True):
        with suppress(OSError):
            path.rmdir()


def remove_old_memory(folder: ClassFolder) -> None:
    """Remove what earlier versions remembered of returned files, of every session; FolderError: it stays."""
    for path in (folder.root / "results").glob(_OLD_MEMORY):
        remove_file(path)
