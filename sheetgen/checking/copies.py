"""Several files of one copy: which of them counts."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from sheetgen.checking.catalogue import Catalogue
from sheetgen.checking.late import is_late
from sheetgen.checking.newest import Arrival, Choice, Reason, newest, same_entries
from sheetgen.checking.review_rows import file_id
from sheetgen.checking.senders import senders_of
from sheetgen.checking.status import answered, superseded, with_findings
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding, Shown, Values, listed, quoted, term

__all__ = ["told_apart", "with_answers"]


def told_apart(
    attempts: Sequence[Attempt],
    catalogue: Catalogue,
    answers: Mapping[str, bool],
    arrivals: Mapping[str, Arrival] | None = None,
) -> list[Attempt]:
    """Return the attempts with at most one that counts for each copy.

    Parameters
    ----------
    answers : file id to whether the teacher said that it counts.
    arrivals : file to how it arrived.

    Notes
    -----
    The same bytes twice count once. Of different files of one copy the newest complete one counts: of those
    that the teacher said yes to, else of those not said no to that are not late, else of those not said no
    to. The others are superseded, and say why. Where nothing tells which is the newest and they differ in
    what was entered, these are refused, and wait. So are those that came from different people, as far as
    names tell: somebody may have changed a copy of another one's sheet, and time does not tell whose it is.
    """
    by_code: dict[str, list[int]] = defaultdict(list)
    for index, attempt in enumerate(attempts):
        if attempt.record is not None and attempt.status != "refused":
            by_code[attempt.record.copy_code].append(index)
    told = list(attempts)
    senders = senders_of(attempts)
    for code, indexes in by_code.items():
        first_of: dict[str, int] = {}
        for index in indexes:
            if told[index].sha256 in first_of:
                told[index] = superseded(told[index], (), catalogue)
            else:
                first_of[told[index].sha256] = index
        different = list(first_of.values())
        if len(different) > 1:
            of_code = [told[index] for index in different]
            for index, one in zip(
                different, _of_copy(code, of_code, catalogue, answers, arrivals or {}, senders), strict=True
            ):
                told[index] = one
    return told


def _of_copy(
    code: str,
    attempts: Sequence[Attempt],
    catalogue: Catalogue,
    answers: Mapping[str, bool],
    arrivals: Mapping[str, Arrival],
    senders: Mapping[str, str],
) -> list[Attempt]:
    """Different files of one copy: one that counts, or several that wait; the others superseded."""
    places = _that_may_count(attempts, answers)
    some = [attempts[place] for place in places]
    choice = _choice(some, [arrivals.get(one.file, Arrival()) for one in some], senders)
    counting = [places[place] for place in choice.counts]
    reasons = {places[place]: reason for place, reason in choice.reasons.items()}
    told = []
    for place, attempt in enumerate(attempts):
        if place in counting and len(counting) == 1:
            told.append(attempt)
        elif place in counting:
            others = tuple(_named(attempts[other].file, senders) for other in counting if other != place)
            values: Values = {"code": code, "others": others, "sender": quoted(senders.get(attempt.file, ""))}
            twice = Finding("identity-copy-twice", values, case="sender" if attempt.file in senders else "")
            told.append(with_findings(attempt, [twice], catalogue))
        else:
            notes = []
            if place in reasons:
                case, told_by = reasons[place]
                newer = listed(tuple(attempts[other].file for other in counting), "or")
                notes.append(Finding("identity-newer-counts", {"file": newer, **told_by}, case=case))
            told.append(superseded(attempt, notes, catalogue))
    return told


def _choice(attempts: Sequence[Attempt], arrivals: Sequence[Arrival], senders: Mapping[str, str]) -> Choice:
    """The newest one, or the newest one of each sender where there are several and their entries differ."""
    by_sender: dict[str, list[int]] = defaultdict(list)
    for place, one in enumerate(attempts):
        by_sender[senders.get(one.file, "")].append(place)
    known = [places for sender, places in by_sender.items() if sender]
    if len(known) < 2:
        return newest(attempts, arrivals)
    counts: list[int] = []
    reasons: dict[int, Reason] = {}
    for places in known:
        choice = newest([attempts[place] for place in places], [arrivals[place] for place in places])
        counts += [places[place] for place in choice.counts]
        reasons |= {places[place]: reason for place, reason in choice.reasons.items()}
    if same_entries([attempts[place] for place in counts]):
        return newest(attempts, arrivals)
    # A file of which no name tells who sent it may be anybody's.
    return Choice(tuple(sorted((*counts, *by_sender.get("", ())))), reasons)


def _named(file: str, senders: Mapping[str, str]) -> str | Shown:
    return term("sent-by", file=file, sender=quoted(senders[file])) if file in senders else file


def _that_may_count(attempts: Sequence[Attempt], answers: Mapping[str, bool]) -> list[int]:
    every = list(range(len(attempts)))
    chosen = [place for place in every if answers.get(file_id(attempts[place])) is True]
    left = [place for place in every if answers.get(file_id(attempts[place])) is not False] or every
    return chosen or [place for place in left if not is_late(attempts[place])] or left


def with_answers(attempts: Sequence[Attempt], answers: Mapping[str, bool]) -> list[Attempt]:
    """Return the attempts with the teacher's word on those for review: yes accepts, no refuses."""
    return [
        answered(attempt, answers[file_id(attempt)]) if file_id(attempt) in answers else attempt
        for attempt in attempts
    ]
