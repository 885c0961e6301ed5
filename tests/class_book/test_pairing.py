from collections import Counter
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from sheetgen.class_book.pairing import (
    Pairs,
    Unmet,
    better_anew,
    circle,
    group_sizes,
    groups_of,
    kept_apart,
    pairs_for_the_rest,
    unpaired,
)
from sheetgen.class_folder.records import ClassBook, Pairing, Person
from sheetgen.protocols.settings import Caliper
from tests.sheets import SETTINGS

C1 = Caliper("C1", "spring caliper", 0.5, 60.0, 0.0)
C2 = Caliper("C2", "spring caliper", 0.5, 60.0, 0.0)
BROKEN = Caliper("C3", "spring caliper", 0.5, 60.0, 0.0, in_service=False)


def people(students: str, wishes: str = "", measures_only: str = "", left: str = "") -> list[Person]:
    """One person a letter, t a teacher; wishes such as `a>b` (partner) and `c|d` (apart)."""
    partner = {wish[0]: wish[2] for wish in wishes.split() if wish[1] == ">"}
    return [
        Person(
            letter, letter, letter,
            role="teacher" if letter == "t" else "student",
            takes_part="measures-only" if letter in measures_only else "both",
            partner=partner.get(letter, ""),
            apart=tuple(wish[2] for wish in wishes.split() if wish[1] == "|" and wish[0] == letter),
            status="left" if letter in left else "",
        )
        for letter in students
    ]  # fmt: skip


def make_pairs(
    everybody: Sequence[Person],
    calipers: Sequence[Caliper],
    size: int = 2,
    demonstration: str = "",
    there: Sequence[Pairing] = (),
) -> Pairs:
    """The pairs of a class that has these already."""
    settings = replace(SETTINGS, calipers=tuple(calipers))
    book = ClassBook("CODE23", "Class", settings, tuple(everybody), tuple(there))
    return pairs_for_the_rest(replace(book, group_size=size, demonstration=demonstration))


def short(pairs: Pairs) -> str:
    return " ".join(f"{each.measurer}{each.participant}{each.caliper_id[1:]}" for each in pairs.pairings)


CASES = [
    # students (t a teacher), calipers, size of groups, measurer participant caliper
    ("", [C1], 2, ""),
    ("a", [C1], 2, ""),
    ("ab", [], 2, ""),
    ("ab", [BROKEN], 2, ""),
    ("ab", [C1], 2, "ab1 ba1"),
    ("atb", [BROKEN, C1], 2, "ab1 ba1"),
    ("abc", [C1, C2], 2, "ab1 bc1 ca1"),
    # Of five people a second caliper would have no recorder.
    ("abcde", [C1, C2], 2, "ab1 ba1 cd1 de1 ec1"),
    ("abcdef", [C1, C2], 2, "ab1 ba1 cd1 dc2 ef2 fe2"),
    ("abcdef", [C1, C2], 3, "ab1 bc1 ca1 de2 ef2 fd2"),
    ("abcde", [C1, C2], 4, "ab1 bc1 cd1 de1 ea1"),
    ("abcdef", [C1, C2], 4, "ab1 bc1 ca1 de2 ef2 fd2"),
]


@pytest.mark.parametrize(("students", "calipers", "size", "expected"), CASES)
def test_make_pairs(students: str, calipers: list[Caliper], size: int, expected: str) -> None:
    assert short(make_pairs(people(students), calipers, size)) == expected


WISHES = [
    # students, wishes, left, pairs, unmet
    ("abcd", "a>c c>a", "", "ac ca bd db", []),
    ("abcd", "d>a", "", "ad da bc cb", []),
    ("abcd", "a>b b>c", "", "ab ba cd dc", [Unmet("b", "partner", "c")]),
    ("abcde", "a>c c>e", "", "ac ce ea bd db", []),
    ("abcd", "a>b c>b b>c", "", "ad da bc cb", [Unmet("a", "partner", "b")]),
    ("abcd", "a|b", "", "ac ca bd db", []),
    ("abcd", "b|a a>b", "", "ac ca bd db", [Unmet("a", "partner", "b")]),
    ("ab", "a|b", "", "", [Unmet("a", "apart"), Unmet("b", "apart")]),
    ("abcd", "a|b a|c a|d", "", "bc cd db", [Unmet("a", "apart")]),
    ("abcdef", "a|b a|c a|d a|e", "", "af fa bc cb de ed", []),
    ("abcd", "a>d", "d", "ab bc ca", [Unmet("a", "partner", "d")]),
    ("abt", "a>t", "", "ab ba", [Unmet("a", "partner", "t")]),
    ("a", "", "", "", [Unmet("a", "alone")]),
]


@pytest.mark.parametrize(("students", "wishes", "left", "expected", "unmet"), WISHES)
def test_make_pairs_with_wishes(
    students: str, wishes: str, left: str, expected: str, unmet: list[Unmet]
) -> None:
    made = make_pairs(people(students, wishes, left=left), [C1])
    assert short(made).replace("1", "") == expected
    assert list(made.unmet) == unmet


def test_whoever_only_measures_is_paired_like_everybody() -> None:
    """Pairs are on every print: with another pair for those who only measure they would tell who that is."""
    for measures_only in ("a", "cd", "abcde"):
        made = make_pairs(people("abcde", "a>c", measures_only), [C1, C2])
        assert made == make_pairs(people("abcde", "a>c"), [C1, C2])
    assert short(make_pairs(people("abc", measures_only="b"), [C1], 2, "b")) == "ab1 cb1"


def test_make_pairs_with_a_demonstration_participant() -> None:
    """Everybody measures one, calipers in turn; the one measures nobody, and may be a teacher."""
    assert short(make_pairs(people("abcd"), [C1, C2], 2, "b")) == "ab1 cb2 db1"
    assert short(make_pairs(people("abt"), [C1, C2], 2, "t")) == "at1 bt2"
    made = make_pairs(people("abc", "a|b"), [C1, C2], 2, "b")
    assert (short(made), made.unmet) == ("cb1", (Unmet("a", "apart", "b"),))


MIXED = [
    # under 18 (the rest is of age), pairs, who measures nobody since everybody left is on the other side
    ("bd", "ac ca bd db", ""),
    ("c", "ab bd da", "c"),
    ("acd", "ac cd da", "b"),
    ("", "ab ba cd dc", ""),
    ("abcd", "ab ba cd dc", ""),
]


@pytest.mark.parametrize(("minors", "expected", "alone"), MIXED)
def test_people_under_18_are_paired_among_themselves(minors: str, expected: str, alone: str) -> None:
    everybody = [replace(one, under_18="yes" if one.student_id in minors else "no") for one in people("abcd")]
    made = make_pairs(everybody, [C1])
    assert short(made).replace("1", "") == expected
    assert made.unmet == tuple(Unmet(student, "age") for student in alone)


def test_nobody_of_age_measures_a_demonstration_participant_under_18() -> None:
    everybody = [replace(one, under_18="yes" if one.student_id in "ab" else "no") for one in people("abct")]
    made = make_pairs(everybody, [C1], 2, "a")
    assert (short(made), made.unmet) == ("ba1", (Unmet("c", "age", "a"),))
    assert short(make_pairs(everybody, [C1], 2, "c")) == "ac1 bc1"


def test_pairs_for_the_rest_leaves_what_is_there() -> None:
    """Late joiners are paired among themselves, at the caliper with the fewest turns."""
    first = make_pairs(people("abcd"), [C1, C2]).pairings
    later = make_pairs(people("abcdefg", "g>c"), [C1, C2], there=first)
    assert short(later) == "ef2 fg2 ge2"
    assert later.unmet == (Unmet("g", "partner", "c"),)


def test_whoever_has_left_or_has_a_line_or_teaches_is_not_unpaired() -> None:
    book = ClassBook(
        "CODE23", "Class", SETTINGS, tuple(people("abcdt", left="c")), (Pairing("a", "b", "C1"),)
    )
    assert [person.student_id for person in unpaired(book)] == ["b", "d"]


def test_pairs_for_the_rest_counts_what_is_met() -> None:
    """b measures a already, so a's wish for b is met whomever a measures."""
    there = [Pairing("b", "a", "C1")]
    assert make_pairs(people("abc", "a>b"), [C1], there=there).unmet == ()


def test_make_pairs_of_a_large_class_in_which_everybody_wishes() -> None:
    """4,500 people, each wishing for the one at the other end: every wish is met."""
    names = [f"s{number}" for number in range(4500)]
    wishing = [
        Person(name, name, "", partner=other) for name, other in zip(names, reversed(names), strict=True)
    ]
    made = make_pairs(wishing, [C1])
    assert len(made.pairings) == 4500
    assert made.unmet == ()


@st.composite
def classes(draw: st.DrawFn) -> list[Person]:
    ids = [f"s{number}" for number in range(draw(st.integers(0, 14)))]
    some = st.sampled_from(ids) if ids else st.nothing()
    rare = st.sampled_from([0, 0, 0, 0, 1])
    return [
        Person(
            one, one, "",
            role="teacher" if draw(rare) else "student",
            takes_part="measures-only" if draw(rare) else "both",
            status="left" if draw(rare) else "",
            partner=draw(st.one_of(st.just(""), some)),
            apart=tuple(draw(st.lists(some, max_size=2))) if draw(st.booleans()) else (),
        )
        for one in ids
    ]  # fmt: skip


def forbidden(apart: dict[str, set[str]], pairings: Sequence[Pairing]) -> list[Pairing]:
    return [each for each in pairings if each.participant in apart.get(each.measurer, ())]


@settings(max_examples=150, deadline=None)
@given(classes(), st.integers(2, 6))
def test_make_pairs_of_any_class(everybody: list[Person], size: int) -> None:
    """Everyone measures once or is named; nobody measures themselves, a leaver or a teacher;
    nobody is paired with someone to be kept apart from; the same class gives the same pairs."""
    made = make_pairs(everybody, [C1, C2], size)
    by_id = {person.student_id: person for person in everybody}
    measuring = [one for one in everybody if one.role == "student" and one.status == ""]
    nobody = {each.student_id for each in made.unmet if each.reason != "partner"}
    assert sorted(each.measurer for each in made.pairings) == sorted(
        one.student_id for one in measuring if one.student_id not in nobody
    )
    for each in made.pairings:
        measured = by_id[each.participant]
        assert each.measurer != each.participant
        assert (measured.role, measured.status) == ("student", "")
    assert forbidden(kept_apart(everybody), made.pairings) == []
    for unmet in made.unmet:
        if unmet.reason == "partner":
            assert by_id[unmet.student_id].partner == unmet.other
    assert make_pairs(everybody, [C1, C2], size) == made


@settings(max_examples=100, deadline=None)
@given(st.integers(2, 40), st.integers(2, 6))
def test_make_pairs_makes_groups_of_about_one_size(count: int, size: int) -> None:
    """No group is smaller than the others by more than one, and each goes round; no caliper has more turns
    than it takes."""
    many = [replace(C1, identifier=f"C{number}") for number in range(20)]
    made = make_pairs([Person(f"s{number}", "", "") for number in range(count)], many, size)
    groups: list[list[Pairing]] = [[]]
    for each in made.pairings:
        groups[-1].append(each)
        if each.participant == groups[-1][0].measurer:
            groups.append([])
    assert groups.pop() == []
    sizes = {len(group) for group in groups}
    turns = Counter(each.caliper_id for each in made.pairings)
    assert max(turns.values()) == max(max(sizes), -(-count // max(1, min(20, count // 3))))
    assert max(sizes) - min(sizes) <= 1
    assert min(sizes) >= 2
    assert max(sizes) <= max(size + 1, 3)
    for group in groups:
        assert {each.measurer for each in group} == {each.participant for each in group}


@settings(max_examples=60, deadline=None)
@given(classes(), st.integers(0, 14))
def test_pairs_for_the_rest_of_any_class(everybody: list[Person], there: int) -> None:
    """Whoever joins later is paired without a change to the pairs there are."""
    first = make_pairs(everybody[:there], [C1])
    later = make_pairs(everybody, [C1], there=first.pairings)
    measurers = [each.measurer for each in (*first.pairings, *later.pairings)]
    assert len(set(measurers)) == len(measurers)
    assert forbidden(kept_apart(everybody), later.pairings) == []


SIZES = [
    # people, size, sizes of the groups
    (0, 2, ()),
    (1, 2, ()),
    (2, 6, (2,)),
    (30, 2, (2,) * 15),
    (31, 2, (2,) * 14 + (3,)),
    (5, 3, (2, 3)),
    (10, 3, (3, 3, 4)),
    (5, 4, (5,)),
    (6, 4, (3, 3)),
    (13, 6, (6, 7)),
    (8, 6, (4, 4)),
]


@pytest.mark.parametrize(("count", "size", "expected"), SIZES)
def test_group_sizes(count: int, size: int, expected: tuple[int, ...]) -> None:
    assert group_sizes(count, size) == expected


def test_groups_of_people_with_wishes_that_do_not_all_fit() -> None:
    """One wish that cannot be met costs no other."""
    groups, alone = groups_of("abcdef", 2, [("a", "f"), ("b", "f"), ("c", "e")], {})
    assert (groups, alone) == ((("a", "f"), ("b", "d"), ("c", "e")), ())


def test_groups_of_people_who_must_look_further() -> None:
    """Taken in order, a and b would go together and leave c and d, who are to be kept apart."""
    apart = {"c": {"d"}, "d": {"c"}}
    assert groups_of("cdab", 2, [], apart) == ((("c", "a"), ("d", "b")), ())
    assert groups_of("abcd", 2, [], apart) == ((("a", "c"), ("b", "d")), ())


def test_groups_of_two_circles_where_one_wish_is_too_many() -> None:
    """Two threes who wish to stay together, with groups of four."""
    wishes = [("a", "b"), ("b", "c"), ("d", "e"), ("e", "f")]
    groups, _ = groups_of("abcdefgh", 4, wishes, {})
    assert groups == (("a", "b", "c", "g"), ("d", "e", "f", "h"))
    wishes = [("a", "b"), ("b", "c"), ("d", "e"), ("e", "f"), ("g", "h")]
    groups, _ = groups_of("abcdefgh", 4, wishes, {})
    assert sorted(map(len, groups)) == [4, 4]


def test_groups_of_a_search_that_is_given_up() -> None:
    """Twenty-four of whom any two are to be kept apart, but for one pair: the others are named."""
    people = [f"s{number}" for number in range(24)]
    apart = {one: {other for other in people if other != one} for one in people}
    apart["s0"].discard("s1")
    apart["s1"].discard("s0")
    groups, alone = groups_of(people, 2, [], apart)
    assert groups == (("s0", "s1"),)
    assert alone == tuple(people[2:])


CIRCLES = [
    # group, partner wished for, order
    ("ab", {"a": "b"}, "ab"),
    ("abc", {}, "abc"),
    ("abc", {"a": "c"}, "acb"),
    ("abcd", {"a": "c"}, "acbd"),
    ("abcd", {"b": "a", "c": "a", "d": "a"}, "abcd"),
]


@pytest.mark.parametrize(("group", "partner", "expected"), CIRCLES)
def test_circle(group: str, partner: dict[str, str], expected: str) -> None:
    assert "".join(circle(group, partner)) == expected


def test_a_student_without_a_name_is_not_paired_where_others_have_one() -> None:
    four = people("abcd")
    nameless = [replace(one, given_name="", family_name="") if one.student_id == "b" else one for one in four]
    pairs = make_pairs(nameless, [C1])
    assert short(pairs) == "ac1 cd1 da1"
    assert pairs.unmet == (Unmet("b", "nameless"),)
    # A class that goes by codes alone is paired as any other.
    codes = [replace(one, given_name="", family_name="") for one in people("abcd")]
    assert short(make_pairs(codes, [C1])) == short(make_pairs(people("abcd"), [C1]))


def test_whom_the_teacher_measures_has_a_pair_with_the_caliper_of_the_student() -> None:
    """Of nine in threes with three calipers: a, b, c with C1, d, e, f with C2, g, h, i with C3."""
    calipers = [C1, C2, replace(C1, identifier="C3")]
    settings = replace(SETTINGS, calipers=tuple(calipers))
    book = ClassBook("CODE23", "Class", settings, (*people("abcdefghi"), *people("t")), ())
    book = replace(book, teacher_measures=("f", "a"))
    made = pairs_for_the_rest(book)
    assert short(made).split()[-2:] == ["tf2", "ta1"]
    assert len(made.pairings) == 9 + 2
    there = replace(book, pairings=made.pairings)
    assert pairs_for_the_rest(there).pairings == ()
    # Who joins the list later gets a pair; the teacher measures neither themselves nor whom to keep apart.
    apart = (*people("abcdefghi", "i|t"), *people("t"))
    later = replace(there, people=apart, teacher_measures=("f", "a", "h", "t", "i"))
    assert short(pairs_for_the_rest(later)) == "th3"


def test_calipers_added_once_pairs_were_made_are_told_of_until_pairs_are_made_anew() -> None:
    """Six in threes: of three calipers two are at work, a recorder each."""
    made = make_pairs(people("abcdef"), [C1], size=3).pairings
    calipers = (C1, C2, replace(C1, identifier="C4"))
    settings = replace(SETTINGS, calipers=calipers)
    book = ClassBook("CODE23", "Class", settings, tuple(people("abcdef")), made, group_size=3, minors="none")
    assert better_anew(book) == ["nobody measures with C2"]
    anew = pairs_for_the_rest(replace(book, pairings=())).pairings
    assert better_anew(replace(book, pairings=anew)) == []


def test_a_pair_of_which_one_alone_counts_as_under_18_is_told_of() -> None:
    """Pairs were made before it was typed who is of age; whom a teacher measures is left out."""
    everybody = [replace(one, under_18="no" if one.student_id in "abd" else "yes") for one in people("abcdt")]
    there = tuple(Pairing(*pair, "C1") for pair in ("ab", "bc", "cd", "da", "tc"))
    settings = replace(SETTINGS, calipers=(C1,))
    book = ClassBook("CODE23", "Class", settings, tuple(everybody), there, minors="some")
    assert better_anew(book) == ["one of two alone counts as under 18: b and c, c and d"]
    assert better_anew(replace(book, minors="all")) == []


def test_a_teacher_who_left_measures_nobody() -> None:
    book = ClassBook("CODE23", "Class", SETTINGS, tuple(people("abct", left="t")), ())
    made = pairs_for_the_rest(replace(book, teacher_measures=("a",)))
    assert [pair.measurer for pair in made.pairings] == ["a", "b", "c"]
