"""The tabs about files: Sheets, and Details, which is for the screen."""

from collections.abc import Mapping, Sequence

from sheetgen.finding import SEVERITIES, Worded
from sheetgen.report.page import (
    Column,
    Page,
    Section,
    counted,
    named,
    sentence,
    short,
    site_column,
    table,
)
from sheetgen.report.tables import TABLES
from sheetgen.report.today import NOTHING_TO_ASK, in_the_middle, place_of
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.analysis import ClassAnalysis, alike_words, pair_words
from sheetgen.statistics.same_numbers import EXPECTED, NumbersPair, SameNumbers
from sheetgen.texts.findings import ready_answer, worded
from sheetgen.texts.languages import Texts, shown_number


def sheets_page(attempts: Sequence[Attempt], session: str, texts: Texts) -> Page:
    """Return the tab Sheets: one row a returned file, printed where there is something to do."""
    asked = [(_first_to_do(attempt, texts), attempt) for attempt in attempts]
    columns = (
        Column("report_heading.file", 18, "1.file"),
        Column("report_heading.student_id", 10, "1.record.student_id"),
        Column("report_heading.status", 16, lambda row: texts[f"report_status.{row[1].status}"]),
        Column("report_sheets.first_to_do", 40, "0"),
    )
    rows = sorted(asked, key=lambda row: (not row[0], row[1].file, row[1].sha256))
    name = named("report_sheets", texts, session=session)
    unprinted = sum(not to_do for to_do, _ in rows)
    hint = (texts["report_sheets.hint"],)
    return Page(*name, hint, *table(columns, rows, texts), filtered=True, unprinted=unprinted)


def _first_to_do(attempt: Attempt, texts: Texts) -> str:
    """The remedy of the gravest finding; a note asks for nothing unless the file waits for a decision."""
    if attempt.status == "superseded":
        return ""
    asking = SEVERITIES if attempt.status != "accepted" else SEVERITIES[:2]
    found = [one for one in attempt.said if one.severity in asking and one.code != NOTHING_TO_ASK]
    if found:
        gravest = min(found, key=lambda finding: asking.index(finding.severity))
        if ready_answer(gravest.code, texts):
            return texts["report_sheets.answer"]
        about, remedy = place_of(attempt, gravest, texts), texts[f"{gravest.code}.remedy"]
        return f"{sentence(about)}: {in_the_middle(remedy)}" if about else remedy
    return "" if attempt.status == "accepted" else texts["report_sheets.decide"]


def details_page(
    attempts: Sequence[Attempt],
    session: str,
    of_class: Sequence[Worded],
    further: Sequence[Section],
    texts: Texts,
) -> Page:
    """Return the tab Details, for the screen: the findings about the class, then every finding of every file,
    in one table, in their order; further sections and the notes on the data below."""
    rows = [("", finding) for finding in of_class]
    for attempt in attempts:
        rows += [(attempt.file, worded(finding, texts)) for finding in attempt.said]

    def place(row: tuple[str, Worded]) -> str:
        file, finding = row
        found = f"{finding.tab} {finding.cell}".strip()
        return (found or texts["report_findings.whole_file"]) if file else ""

    columns = (
        Column("report_heading.file", 26, lambda row: row[0] or texts["report_findings.whole_class"]),
        Column(
            "report_heading.severity", 12, lambda row: texts[f"report_severity.{row[1].severity}"], "label"
        ),
        Column("report_heading.code", 20, "1.code"),
        Column("report_findings.place", 13, place),
        Column("report_findings.found", 22, "1.found"),
        Column("report_findings.expected", 22, "1.expected"),
        Column("report_heading.what_to_do", 36, "1.remedy"),
    )
    said = (texts["report_findings.hint" if rows else "report_findings.nothing_in_files"],)
    name, more = named("report_findings", texts, session=session), (*further, *_data(texts))
    return Page(*name, said, *table(columns, rows, texts), filtered=True, more=more, printed=False)


_MOST_SIDE_BY_SIDE = 40
"""Pairs; one record handed in by a whole class would fill the report."""
_CAUSES = 8
"""Innocent ones, of equal numbers."""


def same_numbers_sections(
    analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts
) -> tuple[Section, ...]:
    """Return what was compared and which sheets hold the same numbers, pairs side by side, for Details."""
    found, words = analysis.same, ("different_people", "same_person")

    def about(pair: NumbersPair) -> str:
        return texts[f"report_same_numbers.{words[pair.same_participant]}"]

    columns = (
        Column("report_heading.first_sheet", 26, "first_copy_code", "label"),
        Column("report_heading.second_sheet", 12, "second_copy_code"),
        Column("report_same_numbers.about", 20, about),
        Column(
            "report_same_numbers.equal_readings", 13, lambda pair: f"{pair.equal_readings} / {pair.compared}"
        ),
        Column("report_same_numbers.equal_sites", 22, "equal_sites", "text"),
        Column("report_same_numbers.expected", 22, lambda pair: short(pair.expected, texts)),
        Column("report_same_numbers.how", 36, lambda pair: alike_words(pair, texts)),
    )
    shown = table(columns if found.pairs else (), found.pairs, texts)
    return (
        Section(texts["report_same_numbers.title"], _sentences(found, texts), *shown),
        *(_side_by_side(pair, titles, texts) for pair in found.pairs[:_MOST_SIDE_BY_SIDE]),
    )


def _sentences(found: SameNumbers, texts: Texts) -> tuple[str, ...]:
    count = len(found.pairs)
    key = "pairs" if count > 1 else "one_pair" if count else "no_pair"
    expected = shown_number(EXPECTED, texts)
    always = (
        texts[f"report_same_numbers.{key}"].format(count=count),
        texts["report_same_numbers.thresholds"].format(files=found.files, expected=expected),
        *(f"   {_threshold(word, found, texts)}" for word, kind in found.kinds.items() if kind.pairs),
        *counted("report_same_numbers.declared", found.declared_out, texts),
    )
    if not count:
        return always
    first = texts["report_same_numbers.first_pairs"].format(count=_MOST_SIDE_BY_SIDE)
    return (
        *always,
        texts["report_same_numbers.innocent"],
        *(f"   {number}. {texts[f'report_same_numbers.cause_{number}']}" for number in range(1, _CAUSES + 1)),
        texts["report_same_numbers.which_file"],
        *((first,) if count > _MOST_SIDE_BY_SIDE else ()),
    )


def _threshold(word: str, found: SameNumbers, texts: Texts) -> str:
    """From how many equal sites on two files of one kind are pointed out."""
    kind = found.kinds[word]
    key = "report_same_numbers.out_of_reach" if kind.threshold > found.sites else "report_same_numbers.least"
    told = {"kind": texts[f"report_same_kind.{word}"], "least": kind.threshold, "sites": found.sites}
    return texts[key].format(**told, expected=short(kind.expected, texts))


def _side_by_side(pair: NumbersPair, titles: Mapping[str, str], texts: Texts) -> Section:
    def equal(reading: tuple[str, int, float | None, float | None]) -> str:
        _, _, first, second = reading
        if first is None or second is None or abs(first - second - pair.shift_mm) > 0.005:
            return ""
        return texts["report_same_numbers.equal"]

    in_words, codes = texts["report_same_numbers.round"], (pair.first_copy_code, pair.second_copy_code)
    columns = (
        site_column(titles, 26, "0"),
        Column("report_same_numbers.reading", 12, lambda row: in_words.format(number=row[1])),
        Column("", 20, equal, "label"),
        Column("report_common.in_mm", 13, "2", "result_2", codes[0]),
        Column("report_common.in_mm", 22, "3", "result_2", codes[1]),
    )
    title = texts["report_same_numbers.side_by_side"].format(first=codes[0], second=codes[1])
    words = f"{sentence(pair_words(pair, texts))}."
    return Section(title, (words,), *table(columns, pair.side_by_side, texts))


_STATISTICS = ("tem", "limits", "icc", "agreement", "change", "tests", "counts")


def _data(texts: Texts) -> tuple[Section, ...]:
    tables = (f"{shape.name}.csv: {texts[f'report_table.{shape.name}_holds']}" for shape in TABLES)
    named = ((texts[f"report_data.{word}"], texts[f"report_data.{word}_source"]) for word in _STATISTICS)
    sources = (f"{statistic}: {source}." for statistic, source in named)
    said = (texts["report_data.plain_tables"], texts["report_data.health_data"], *tables)
    return Section(texts["report_data.title"], said), Section(texts["report_data.sources"], tuple(sources))
