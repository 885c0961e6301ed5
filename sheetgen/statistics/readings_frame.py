"""The one table of readings that the statistics of a class, and its open tables, are made from."""

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import product
from typing import TYPE_CHECKING, Any

from sheetgen.class_folder.records import EXERCISES, ClassBook, CopyRecord
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.names import ROUNDS, reading_name
from sheetgen.protocols.recalculation import Entries, Results, SiteResult, change_of, number_of, text_of
from sheetgen.protocols.settings import Caliper
from sheetgen.returned.attempt import COUNTED, Attempt, waits_for_an_answer

if TYPE_CHECKING:
    from pandas import DataFrame, Series

LEAST_PEOPLE = 20
"""People before a class is held against a published limit: common practice, no source."""
LEAST_DEGREES = 10
"""Degrees of freedom before an error is given at all. Our choice: with 10 the 95 % interval of a TEM runs
from 0.7 to 1.8 times its value, with fewer it says next to nothing."""
SMALL_CELL = 5
"""People: of fewer no statistic of a site is given, and no count of them is projected: they come near to
telling of one. Common in official statistics, no one source."""
LEFT_OUT_WORDS = (
    "superseded", "practice", "in-question", "site-left-out", "beyond-opening", "off-scale", "no-zero",
    "not-above-zero", "one-round", "far-apart", "third-unsettled", "teacher", "second-caliper",
)  # fmt: skip
"""Why a reading does not enter the class's technical error; the first that holds is said.

`one-round` : the other round is missing, or left out for one of the reasons before."""
FLAGGED = ("beyond-opening", "off-scale", "far-apart")
"""Of these, what says that a number on the sheet may be wrong."""
FAR_APART = 6
"""Times the median |round 1 - round 2| of the class at a site from which a pair is a slip. Our choice. Of
innocent pairs at 20 sheets 1 in 700 lies beyond it where errors are normal and of one size, 1 in 170 where
they grow with the fold (4,000 simulated classes on a 0.5 mm scale, folds with a spread of 30 %)."""
_LEAST_MEDIAN = 25
"""[0.01 mm] and half a division: no median is taken for smaller, so that a class whose readings mostly repeat
to the division keeps the others."""

_COLUMNS = {
    # of the sheet
    "sheet": "int64", "session": "int64", "exercise": object, "file": object, "copy_code": object,
    "sha256": object, "student_id": object, "is_teacher": bool, "participant_code": object,
    "printed_participant": object,
    "other_participant": bool, "protocol": object, "side": object, "caliper": object, "division": "float64",
    "opening": "float64", "status": object, "practice": bool, "in_question": bool,
    # of the site
    "site": object, "rounds": "int64", "site_mm": "float64", "third_needed": object, "kept_rounds": object,
    "measure_again": bool, "not_taken": object,
    # of the reading
    "round": "int64", "reading_mm": "float64", "caliper_id": object, "zero_mm": "float64",
    "registered": object, "step": "float64", "zero": "float64", "raw": "float64", "corrected": "float64",
}  # fmt: skip


def readings_frame(attempts: Sequence[Attempt], book: ClassBook, codes: Collection[str] = ()) -> "DataFrame":
    """Return one row a sheet, site and round, entered or not, in the order of taking.

    Of every returned file of ours that was not refused, of any session, by session, copy code and file; the
    same bytes under two names once. codes : what `participant_today` may name besides those of the book. Of
    the sheet: `sheet`, its number. participant_code : whose readings these are; empty where someone else was
    measured and no code says who. other_participant : someone else than `printed_participant` was measured.
    caliper : the one registered caliper used, else empty. division, opening : the largest of the calipers
    used [0.01 mm]; NaN where one is not registered. practice : the readings are the practice set.
    sheet_counts : accepted or for review, not practice. in_question : it waits for the teacher's word, for
    another reason than that it came late.

    Of the site: as in `SiteResult`. Of the reading: reading_mm, caliper_id, zero_mm : as entered; NaN where
    there is no number. registered : that caliper as registered, else empty; step : a division of it. zero,
    raw, corrected : in whole hundredths of a millimetre [0.01 mm], as read off and with the zero deducted;
    NaN where there is none. beyond_opening : no caliper used can show it; then raw and corrected are NaN.
    counts : `yes` where it enters the class's technical error; `third`; `no`, with `left_out_because`.
    far_limit : what makes a pair of rounds at this site a slip, see `FAR_APART` [0.01 mm]; NaN where the
    class has too few pairs to say."""
    import pandas

    codes = {*codes, *(person.participant_code for person in book.people)}
    calipers = {caliper.identifier.casefold(): caliper for caliper in book.settings.calipers}
    teachers = book.teachers
    rows = []
    for sheet, (record, results, attempt) in enumerate(_returned(attempts)):
        facts = {"sheet": sheet, "is_teacher": record.student_id in teachers}
        facts |= _sheet_facts(attempt, record, codes) | _scale(attempt.entries, calipers)
        rows += [facts | row for row in _readings(attempt.entries, results.sites, calipers)]
    frame = pandas.DataFrame(rows, columns=list(_COLUMNS), dtype=object).astype(_COLUMNS)
    frame["sheet_counts"] = frame["status"].isin(COUNTED) & ~frame["practice"]
    frame["beyond_opening"] = frame["raw"] > frame["opening"]
    frame.loc[frame["beyond_opening"], ["raw", "corrected"]] = math.nan
    return _with_reasons(frame)


def _with_reasons(frame: "DataFrame") -> "DataFrame":
    """The rows with whether a reading enters the technical error, and why not."""
    import numpy

    pair, third = [frame["sheet"], frame["site"]], frame["round"] == ROUNDS[-1]
    none = frame["corrected"].isna()
    off_scale = (frame["raw"] % frame["step"]).fillna(0) != 0
    alone = (none | off_scale).mask(third, False).groupby(pair).transform("any")
    no_third = frame["corrected"].where(third).groupby(pair).transform("count") == 0
    second = frame["exercise"] != EXERCISES[0]
    apart = frame["is_teacher"] | second
    holds = {
        "superseded": frame["status"] == "superseded",
        "practice": frame["practice"],
        "in-question": frame["in_question"],
        "site-left-out": frame["not_taken"] != "",
        "third": third & ~apart,
        # A number too large for any entry has no raw value either.
        "beyond-opening": frame["raw"].isna(),
        "off-scale": off_scale,
        "no-zero": none & frame["zero"].isna(),
        "not-above-zero": none,
        "one-round": alone,
    }
    signed = frame["corrected"].where(~third).mask(frame["round"] == 2, -frame["corrected"])
    gap = signed.groupby(pair).transform("sum").abs()
    usable = ~numpy.logical_or.reduce(list(holds.values()))
    frame = frame.assign(far_limit=_far_limit(frame, gap.where(usable & ~apart)))
    holds |= {
        "far-apart": gap > frame["far_limit"],
        "third-unsettled": (frame["third_needed"] == "yes") & (no_third | frame["measure_again"]),
        "teacher": frame["is_teacher"],
        "second-caliper": second,
    }
    entered = frame["reading_mm"].notna()
    why = numpy.select([entered & holds[word] for word in holds], list(holds), "")
    counts = numpy.select([why == "third", entered & (why == "")], ["third", "yes"], "no")
    return frame.assign(counts=counts, left_out_because=numpy.where(why == "third", "", why))


def _far_limit(frame: "DataFrame", gap: "Series") -> "Series":
    """The limit of each row [0.01 mm]; gap : of the pairs it comes from, once a round, else NaN."""
    of_site = gap.groupby([frame["session"], frame["site"]])
    least = (frame["division"] / 2).clip(lower=_LEAST_MEDIAN).fillna(_LEAST_MEDIAN)
    limit = FAR_APART * of_site.transform("median").clip(lower=least)
    return limit.where(of_site.transform("count") >= 2 * LEAST_DEGREES)


def rounds_of(readings: "DataFrame", practice: bool = False) -> "DataFrame":
    """Return one row a site of every sheet that counts: its rounds 1 and 2 side by side. practice : those of
    practice readings instead. raw_1, raw_2 : raw rounds [0.01 mm]. whole_gap : corrected round 1 less round 2
    [0.01 mm]. first, second, gap : corrected rounds and their difference [0.01 mm] where both enter the
    technical error, or would but for the teacher's hand; else NaN. why : why they do not, empty where they
    do; of two reasons the one that is not `one-round`. own_gap, mean_mm : difference [0.01 mm] and mean [mm]
    also of a pair off the scale, or whose third reading settled nothing: no slip, so part of the measurer's
    measuring."""
    kept = readings["practice"] & readings["status"].isin(COUNTED) if practice else readings["sheet_counts"]
    counting = readings[kept]
    first, second = (counting[counting["round"] == number].reset_index(drop=True) for number in (1, 2))
    wide = first.rename(columns={"raw": "raw_1", "corrected": "first", "left_out_because": "why"})
    wide["raw_2"], wide["second"] = second["raw"], second["corrected"]
    wide["why"] = wide["why"].mask(wide["why"].isin(["", "one-round"]), second["left_out_because"])
    wide["whole_gap"] = wide["first"] - wide["second"]
    own = wide["why"].isin(["", "teacher", "second-caliper", "third-unsettled", "off-scale"])
    own &= ~(wide["whole_gap"].abs() > wide["far_limit"])
    wide["own_gap"] = wide["whole_gap"].where(own)
    wide["mean_mm"] = ((wide["first"] + wide["second"]) / 200).where(own)
    wide[["first", "second"]] = wide[["first", "second"]].where(wide["why"].isin(["", "teacher"]))
    wide["gap"] = wide["first"] - wide["second"]
    return wide


def sheet_count(rows: "DataFrame") -> int:
    """Return how many sheets the rows are of."""
    return int(rows["sheet"].nunique())


def measured_code(attempt: Attempt, participant_codes: Collection[str]) -> str:
    """Return the code of the person whose readings these are: the one printed on the sheet, the one typed
    where someone else was measured, empty where nobody knows. participant_codes : of the class; another text
    in `participant_today` may be a name, never passed on."""
    if attempt.record is None:
        return ""
    printed = attempt.record.participant_code
    typed = text_of(attempt.entries, "participant_today")
    if typed in ("", printed.casefold()):
        return printed
    return next((code for code in sorted(participant_codes) if code.casefold() == typed), "")


def _returned(attempts: Sequence[Attempt]) -> list[tuple[CopyRecord, Results, Attempt]]:
    """The files the rows are of; under two names the file that counts, else the first."""
    kept: dict[tuple[int, str, str], tuple[CopyRecord, Results, Attempt]] = {}
    for attempt in sorted(attempts, key=lambda attempt: (attempt.status == "superseded", attempt.file)):
        record, results = attempt.record, attempt.results
        if record and results and attempt.status != "refused":
            key = (record.session, record.copy_code, attempt.sha256)
            kept.setdefault(key, (record, results, attempt))
    return sorted(kept.values(), key=lambda one: (one[0].session, one[0].copy_code, one[2].file))


def _sheet_facts(attempt: Attempt, record: CopyRecord, codes: Collection[str]) -> dict[str, Any]:
    today, printed = text_of(attempt.entries, "participant_today"), record.participant_code
    return {
        "session": record.session, "exercise": record.exercise, "file": attempt.file,
        "copy_code": record.copy_code, "sha256": attempt.sha256, "student_id": record.student_id,
        "participant_code": measured_code(attempt, codes), "printed_participant": printed,
        "other_participant": today not in ("", printed.casefold()), "protocol": attempt.protocol_id,
        "side": text_of(attempt.entries, "side") or "right", "status": attempt.status,
        "practice": attempt.is_practice,
        "in_question": attempt.status == "review" and waits_for_an_answer(attempt),
    }  # fmt: skip


def _scale(entries: Entries, calipers: Mapping[str, Caliper]) -> dict[str, Any]:
    """What a sheet was measured with; nothing is known where a caliper is not registered."""
    names = ("caliper_id", "caliper_id_2") if change_of(entries) else ("caliper_id",)
    used = [calipers[word] for name in names if (word := text_of(entries, name)) in calipers]
    if len(used) < len(names):
        return {"caliper": ""}
    return {
        "caliper": used[0].identifier if len(used) == 1 else "",
        "division": max(hundredths(caliper.division) for caliper in used),
        "opening": max(hundredths(caliper.opening) for caliper in used),
    }


def _readings(
    entries: Entries, sites: Sequence[SiteResult], calipers: Mapping[str, Caliper]
) -> Iterator[dict[str, Any]]:
    """Site and reading in the order of taking, each with the caliper in hand."""
    used = _used(entries, "caliper_id", "zero_mm", calipers)
    changed = change_of(entries)
    for number, site in product(ROUNDS, sites):
        if changed == f"{number}_{site.site}":
            used = _used(entries, "caliper_id_2", "zero_2_mm", calipers)
        name = reading_name(number, site.site)
        yield used | {
            "site": site.site, "rounds": sum(value is not None for value in site.corrected),
            "site_mm": site.value_mm, "third_needed": site.third_needed,
            "kept_rounds": "+".join(map(str, site.kept_rounds)), "measure_again": site.measure_again,
            "not_taken": site.not_taken, "round": number, "reading_mm": _finite(entries.get(name)),
            "raw": None if site.not_taken else _hundredths(number_of(entries, name)),
            "corrected": _hundredths(site.corrected[number - 1]),
        }  # fmt: skip


def _used(entries: Entries, caliper: str, zero: str, calipers: Mapping[str, Caliper]) -> dict[str, Any]:
    found = {"caliper_id": entries.get(caliper), "zero_mm": _finite(entries.get(zero)), "registered": ""}
    if registered := calipers.get(text_of(entries, caliper)):
        found |= {"registered": registered.identifier, "step": hundredths(registered.division)}
    return {**found, "zero": _hundredths(number_of(entries, zero))}


def _finite(value: str | float | None) -> float | None:
    """A number as entered; None for what is none: a text typed for one has its finding."""
    return None if value is None or isinstance(value, str) or not math.isfinite(value) else value


def _hundredths(value: float | None) -> int | None:
    return None if value is None else hundredths(value)
