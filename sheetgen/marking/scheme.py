"""Marking: the scheme a teacher edits, and what a sheet was given for what."""

from collections.abc import Mapping

from msgspec import Struct, field

ITEM_KINDS = ("procedure", "steps", "answers", "precision")


class SchemeItem(Struct, frozen=True):
    """One item of a marking scheme.
    word : unique in the scheme. kind : one of ITEM_KINDS. off : neither marked nor in the total. checks : of
    a procedure item: what is looked at. bands : (limit, share of the points) with rising limits; beyond the
    last limit the share is 0. Of a procedure item the limit is a number of lapses, of a precision item a
    multiple of the site's limit. steps, weights : of a steps item: groups of lines of the own working, and
    how they share the points. carry_forward : judged from the student's own line above; otherwise the correct
    answer only. same_slip : `each` line with the same slip costs, or `once` for all of them. In another item
    it never costs again. answers : words of the short questions, which a person marks. models : the teacher's
    own model answers. limit_mm, limit_percent : how far a site may be from the teacher's own value: the
    larger of the two. site_limits_mm : of sites that have another limit than limit_mm."""

    word: str
    title: str
    points: float
    kind: str
    off: bool = False
    checks: tuple[str, ...] = ()
    bands: tuple[tuple[float, float], ...] = ()
    steps: tuple[str, ...] = ()
    weights: tuple[float, ...] = ()
    carry_forward: bool = True
    same_slip: str = "each"
    answers: tuple[str, ...] = ()
    models: Mapping[str, str] = field(default_factory=dict)
    limit_mm: float = 0.0
    limit_percent: float = 0.0
    site_limits_mm: Mapping[str, float] = field(default_factory=dict)


class MarkingScheme(Struct, frozen=True):
    """A marking scheme. total : what the points of all items that are not off add up to.
    not_assessable : what becomes of the points of a line that cannot be assessed: `ask` a person, `leave-out`
    of the maximum, or `no-marks`. tolerances : group of steps to what is allowed beyond the rounding, in the
    step's unit. slip_shares : slip to the share of the line's points that is given all the same."""

    identifier: str
    title: str
    total: float
    items: tuple[SchemeItem, ...]
    not_assessable: str = "ask"
    tolerances: Mapping[str, float] = field(default_factory=dict)
    slip_shares: Mapping[str, float] = field(default_factory=dict)


class SlipFit(Struct, frozen=True):
    """A slip that explains a line. detail : which site, equation or conversion, or empty."""

    word: str
    detail: str = ""


class Reason(Struct, frozen=True):
    """Why marks were given or not. code : its text stands under `mark_reason.CODE`. about : a live result, a
    check, a short question or a site; empty: the whole item. count, chances : lapses, of how many."""

    code: str
    about: str = ""
    slips: tuple[SlipFit, ...] = ()
    count: int = 0
    chances: int = 0


class StepMark(Struct, frozen=True):
    """One line of own working.
    step : the live result it answers. state : `right`, `wrong`, `again` (a mistake that has cost already),
    `blank`, `formula`, `unreadable` or `not-assessable`. yours, from_line_above, from_readings : the three
    numbers, None where there is none. tolerance : what was allowed around from_line_above, in the step's
    unit. score, points : given, and possible. waits : the points that wait for a person."""

    step: str
    state: str
    yours: float | None
    from_line_above: float | None
    from_readings: float | None
    tolerance: float
    slips: tuple[SlipFit, ...]
    score: float
    points: float
    waits: float
    reason: Reason


class ItemMark(Struct, frozen=True):
    """One item. exempt : there was nothing to judge and nobody's fault; it is not in the maximum."""

    word: str
    title: str
    score: float
    maximum: float
    exempt: bool
    reasons: tuple[Reason, ...]
    steps: tuple[StepMark, ...] = ()


class ToBeMarked(Struct, frozen=True):
    """What a person has to mark. about : entry name, or the check that nobody can tell about. text : what
    stands there. expected : what it would be from the readings, None where that cannot be told or it is no
    number. seal : keyed digest of name and text, empty without a secret. model : the scheme's answer."""

    item: str
    about: str
    points: float
    text: str
    seal: str = ""
    expected: float | None = None
    model: str = ""


class Marking(Struct, frozen=True):
    """The marks of one sheet. score : so far, without what waits for a person. maximum : without what is
    exempt. given : points by a person, and for what. status : `final`, `to be marked`, or `exempt`."""

    scheme: str
    items: tuple[ItemMark, ...]
    score: float
    maximum: float
    to_be_marked: tuple[ToBeMarked, ...]
    given: tuple[tuple[ToBeMarked, float], ...] = ()

    @property
    def status(self) -> str:
        if self.to_be_marked:
            return "to be marked"
        return "final" if self.maximum else "exempt"
