"""Who measures whom where nobody has said so."""

from collections.abc import Sequence

from sheetgen.model.settings import Caliper, Pairing, Person

__all__ = ["make_pairs"]


def make_pairs(people: Sequence[Person], calipers: Sequence[Caliper]) -> tuple[Pairing, ...]:
    """Return pairings of the students in their order.

    Two and two measure each other; of an odd number the last three go round, the first measuring the second,
    the second the third, the third the first. One student alone measures nobody. Teachers are left out. The
    calipers in service go round by pair, so that who measure each other share one; without any, no pairings.

    Examples
    --------
    >>> two = (Person("s1", "Ada", "Example"), Person("s2", "Ben", "Example"))
    >>> [pairing.participant for pairing in make_pairs(two, [Caliper("C1", "spring", 0.5, 60.0, 0.0)])]
    ['s2', 's1']
    """
    students = [person.student_id for person in people if person.role != "teacher"]
    issued = [caliper.identifier for caliper in calipers if caliper.in_service]
    if len(students) < 2 or not issued:
        return ()
    starts = list(range(0, len(students) - 1, 2))
    ends = [*starts[1:], len(students)]
    pairings: list[Pairing] = []
    for number, (start, end) in enumerate(zip(starts, ends, strict=True)):
        circle = students[start:end]
        pairings += [
            Pairing(measurer, participant, issued[number % len(issued)])
            for measurer, participant in zip(circle, [*circle[1:], circle[0]], strict=True)
        ]
    return tuple(pairings)
