"""Everything that is derived from a session: report, feedback and its zip, tables; and what of it is kept."""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from functools import partial
from itertools import chain, count
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace
from xlsxwriter.workbook import Workbook

from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.files import keep_last_three, make_folder, read_if_there, sync_folder, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.class_folder.scores import load_scores, save_scores, save_slips
from sheetgen.marking.drill import drill_result
from sheetgen.marking.marks import Marks, comment_given, mark_rows, sheet_slips, with_unusable, with_wholes
from sheetgen.marking.scheme import MarkingScheme
from sheetgen.protocols.protocol import Protocol
from sheetgen.report import tables
from sheetgen.report.answers import answers_by_file
from sheetgen.report.feedback import Feedback, feedback_bytes
from sheetgen.report.file_pages import details_page, same_numbers_sections, sheets_page
from sheetgen.report.marks_pages import marks_page
from sheetgen.report.measurers_page import measurers_page
from sheetgen.report.over_time import retest_page, retest_sites, site_titles
from sheetgen.report.page import Page, SessionResults, in_order, writable_text
from sheetgen.report.precision_pages import measured_page, repeat_section
from sheetgen.report.teaching_page import teaching_page
from sheetgen.report.today import Talk, class_summary_page, could_not, names_page, to_talk_to, today_page
from sheetgen.report.writing import Formats, workbook_bytes, write_page
from sheetgen.returned.attempt import Attempt, has_work
from sheetgen.returned.came_back import Awaited, Unusable
from sheetgen.returned.pool import mapped
from sheetgen.sheet.student import all_protocols
from sheetgen.statistics.analysis import ClassAnalysis, class_analysis, class_findings
from sheetgen.statistics.measurers import (
    MeasurerRecord,
    measurer_records,
    save_measurers,
    save_observed,
    site_records,
)
from sheetgen.statistics.precision import load_precision, save_precision, slip_sites, with_kept, worst_site
from sheetgen.texts.languages import Texts, texts_in
from sheetgen.workbook.packages import packed

_INSIDE_BUNDLE = re.compile(r"^(session-\d+/)?[^/]*\.zip/", re.IGNORECASE | re.DOTALL)
_READABLE = 0o100644 << 16
"""Permissions of the files in the zip."""
_NOT_IN_FILE_NAMES = re.compile(r'[<>:"|?*\x00-\x1f\x7f]')
_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)", re.IGNORECASE)


def report_bytes(
    results: SessionResults, talk: Sequence[Talk], protocols: Mapping[str, Protocol], texts: Texts
) -> bytes:
    """Return the report on one session as a workbook. talk : of `to_talk_to`. protocols : by identifier;
    without its own, an attempt's sites go by code words. texts : those of `write_results`."""

    def fill(workbook: Workbook, formats: Formats) -> None:
        workbook.set_size(1366 * 15, 768 * 15)
        for page in _pages(results, talk, protocols, texts):
            write_page(workbook, formats, page, texts)

    title = texts["report_common.title"].format(title=results.book.title, session=results.called)
    return workbook_bytes(title, results.book.settings.language, fill)


def _pages(
    results: SessionResults, talk: Sequence[Talk], protocols: Mapping[str, Protocol], texts: Texts
) -> list[Page]:
    """The tabs in their order; a page that has nothing to say is not made."""
    book, attempts, session, analysis = results.book, results.attempts, results.called, results.analysis
    codes = {one.student_id: one.participant_code for one in book.people if one.participant_code}
    titles = site_titles(attempts, protocols)
    # The files of the sheets may be gone.
    every_title = {site.word: site.title for one in protocols.values() for site in one.sites} | titles
    change, earlier = analysis.retest, book.session_words(analysis.earlier) if analysis.earlier else ""
    measured = measured_page(analysis, session, titles, codes, texts)
    further = (
        *same_numbers_sections(analysis, titles, texts),
        *((repeat_section(analysis, titles, codes, texts),) if measured else ()),
        *((retest_sites(change, titles, texts),) if change else ()),
    )
    pages = (
        today_page(results, talk, could_not(analysis, texts), texts),
        marks_page(results, texts),
        teaching_page(results, protocols.get(book.settings.protocol_id), texts),
        measured,
        sheets_page(attempts, session, texts) if attempts else None,
        class_summary_page(analysis, session, titles, texts, attempts),
        retest_page(change, (session, earlier), titles, texts) if change and earlier else None,
        measurers_page(results.records_to_show.values(), session, every_title, codes, texts),
        names_page(results, texts),
        details_page(in_order(attempts, results.session), session, results.class_findings, further, texts),
    )
    return [page for page in pages if page is not None]


class Read(Struct, frozen=True):
    """What is known of a session once everything in it was read. earlier : attempts of earlier sessions.
    decisions : of the teacher on this session, by subject. today : the day of this reading, YYYY-MM-DD.
    waited : the sheets still waited for. unusable, strays : as SessionResults has them."""

    session: int
    book: ClassBook
    attempts: Sequence[Attempt]
    earlier: Sequence[Attempt]
    handed_out: Sequence[CopyRecord]
    scheme: MarkingScheme
    marks: Marks
    decisions: Mapping[str, Sequence[Decision]]
    today: str
    waited: Sequence[Awaited] = ()
    unusable: Sequence[Unusable] = ()
    strays: int = 0


def by_subject(decisions: Iterable[Decision]) -> dict[str, list[Decision]]:
    """Return decisions by what they are about: a look through all of them for each sheet takes too long."""
    grouped: dict[str, list[Decision]] = defaultdict(list)
    for one in decisions:
        grouped[one.subject].append(one)
    return dict(grouped)


def write_results(folder: ClassFolder, read: Read, executor: Executor | None = None) -> tuple[str, ...]:
    """Write results/ of a session, and the scores with the last three marks.csv into keep/; return a line
    about each person to talk to, by student_id. executor : makes the pages of feedback; None: this process.
    FolderError where a result cannot be written."""
    session, book, attempts = read.session, read.book, read.attempts
    codes = [record.participant_code for record in read.handed_out]
    language = book.settings.language
    texts = texts_in(language, "sheet", "findings", "report", "marking", "feedback", "review")
    analysis = class_analysis(attempts, book, session, read.earlier, book.declared, codes)
    kept = tuple(site for number, site in load_precision(folder) if number == session)
    sites = with_kept(analysis.sites, kept, bool(read.marks.gone))
    save_precision(folder, session, sites, read.today)
    analysis = replace(analysis, sites=sites, worst=worst_site(sites))
    because = {one.record.student_id: one.because for one in read.waited if one.because}
    withdrawn, kept_scores = read.marks.withdrawn, read.marks.scores
    marks = with_unusable(mark_rows(book, kept_scores, read.scheme.total, withdrawn), because)
    save_scores(folder, session, with_wholes(kept_scores, marks, load_scores(folder), session))
    found = sheet_slips(attempts, read.marks.markings, session)
    slips = save_slips(folder, session, found, read.marks.markings.keys())
    slips = tuple(one for one in slips if one.copy_code not in withdrawn)
    scores = [one for one in kept_scores if one.sheet and one.sheet not in withdrawn]
    records = _measurers(folder, read, analysis)
    protocols = all_protocols(folder, language)
    of_class = class_findings(analysis, texts, site_titles(attempts, protocols))
    results = SessionResults(
        book, attempts, session, read.handed_out, analysis, marks, of_class, read.unusable, read.strays,
        slips, read.marks.markings, scores, {item.word: item.title for item in read.scheme.items}, records,
    )  # fmt: skip
    talk = to_talk_to(attempts, analysis, texts)
    texts_of = {
        folder.attempts(session): tables.attempts_table(attempts, session, codes),
        folder.sites(session): tables.sites_table(analysis.readings),
        folder.readings(session): tables.readings_table(analysis.readings),
        folder.precision(session): tables.precision_table(analysis.sites, session),
        folder.marks_by_item(session): tables.items_table(scores),
        folder.slips(session): tables.slips_table(slips),
        folder.findings(session): tables.findings_table(attempts, session, texts),
        folder.files(session): tables.files_table(attempts, session),
        folder.description(session): tables.datapackage_text(texts),
    }
    outputs = {path: text.encode("utf-8") for path, text in texts_of.items()}
    # It holds names and is opened by double click: without the mark a spreadsheet program spoils them.
    outputs[folder.marks(session)] = tables.marks_table(marks).encode("utf-8-sig")
    make_folder(folder.kept_marks(session).parent)
    keep_last_three(folder.kept_marks(session), outputs[folder.marks(session)])
    outputs[folder.report(session)] = report_bytes(results, talk, protocols, texts)
    make_folder(folder.results(session))
    for path, data in outputs.items():
        write_beside(path, data, sync=False)
    sync_folder(folder.results(session))
    _write_feedback(folder, read, results, executor)
    return tuple(one.line(texts, " + ".join(one.people)) for one in talk)


def _measurers(folder: ClassFolder, read: Read, analysis: ClassAnalysis) -> dict[str, MeasurerRecord]:
    """Keep what this session says of the measurers, and return their records so far."""
    drills = [drill for one in read.attempts if has_work(one) and (drill := drill_result(one))]
    read_off = {drill.copy_code: (drill.within, drill.typed) for drill in drills}
    now = site_records(analysis.rounds, analysis.apart, read.today, read_off)
    kept = save_measurers(folder, read.session, now, read.marks.gone.values())
    decisions = (one for decided in read.decisions.values() for one in decided)
    return measurer_records(kept, save_observed(folder, read.session, decisions), read.session)


def _write_feedback(
    folder: ClassFolder, read: Read, results: SessionResults, executor: Executor | None
) -> None:
    """Write the pages of the sheets that are marked, and the zip of all, with the answers to other files."""
    settings, place = read.book.settings, folder.feedback(read.session)
    slips = slip_sites(results.analysis.rounds)
    names, incoming, feedback = [], [], []
    for attempt in read.attempts:
        record, built_with = attempt.record, attempt.built_with
        if not (record and built_with and has_work(attempt) and record.copy_code in read.marks.markings):
            continue
        code, decided = record.copy_code, read.decisions.get(record.copy_code, ())
        about = {one.name: one for one in decided if one.kind == "comment" and one.name}
        names.append(record.file_name or f"{code}.xlsx")
        incoming.append(attempt.came_as)
        feedback.append(Feedback(
            replace(attempt, built_with=None), read.marks.markings[code], built_with.protocol,
            comment_given(decided, code), read.marks.adjusted.get(code), settings.show_results != "never",
            slips.get(code, ()), built_with.settings, read.scheme.total,
            {name: comment_given((one,), code, name) for name, one in about.items()},
            results.records_to_show.get(record.student_id),
        ))  # fmt: skip
    make = partial(_page_made, settings.language)
    made = list(mapped(make, feedback, len(feedback), executor, make))
    make_folder(place)
    for name, data in zip(names, made, strict=True):
        _write_where_new(place / name, data)
    answers = answers_by_file(read.unusable, read.waited, settings.language)
    handed_over = {**answers, **dict(zip(incoming, made, strict=True))}
    # The names inside the platform's bundle, as it wants them back; whole ones where two would clash.
    inside = {_INSIDE_BUNDLE.sub("", name): data for name, data in handed_over.items()}
    bundle = feedback_zip(inside if len(inside) == len(handed_over) else handed_over)
    if _write_where_new(folder.feedback_zip(read.session), bundle):
        sync_folder(place)


def _write_where_new(path: Path, data: bytes) -> bool:
    """Write what is not there yet, and tell whether it was not."""
    new = read_if_there(path) != data
    if new:
        write_beside(path, data, sync=False)
    return new


def _page_made(language: str, feedback: Feedback) -> bytes:
    return feedback_bytes(feedback, texts_in(language, "sheet", "marking", "feedback"), language)


def feedback_zip(files: Mapping[str, bytes]) -> bytes:
    """Return feedback workbooks as one zip under the names the sheets came in with. files : incoming file
    name, with folders where there were any, to the bytes of the feedback. A name can lead nowhere but below
    the place where the zip is unpacked, is fit for every usual system, ends in `.xlsx`, and stands there
    once: a second one of the same name gets a number. Order and dates are fixed."""
    safe = {name: _safe_path(name) for name in sorted(files)}
    taken = {_folded("/".join(path[:end])) for path in safe.values() for end in range(1, len(path))}
    named = {}
    for name, path in safe.items():
        stem, ending = "/".join(path)[:-5], path[-1][-5:]
        numbered = (f"{stem} ({number}){ending}" for number in count(2))
        unique = next(one for one in chain([stem + ending], numbered) if _folded(one) not in taken)
        taken.add(_folded(unique))
        named[unique] = files[name]
    return packed(named, _READABLE)


def _safe_path(name: str) -> tuple[str, ...]:
    parts = [_safe_part(part) for part in re.split(r"[/\\]", writable_text(name))]
    kept = [part for part in parts if part] or ["feedback"]
    if not kept[-1].casefold().endswith(".xlsx"):
        kept[-1] += ".xlsx"
    return tuple(kept)


def _safe_part(part: str) -> str:
    """One step of a path, empty where it is none: no `..`, no drive, nothing that a system refuses."""
    clean = _NOT_IN_FILE_NAMES.sub("_", part).strip().rstrip(". ")
    return f"_{clean}" if _DEVICES.match(clean) else clean


def _folded(path: str) -> str:
    """The same for names that some systems take for the same."""
    return unicodedata.normalize("NFC", path).casefold()
