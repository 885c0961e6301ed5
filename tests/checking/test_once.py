"""Work done once for each object."""

from sheetgen.checking.once import once_for_each


def test_once_for_each_runs_once_for_the_same_object_and_again_for_an_equal_one() -> None:
    seen = []

    @once_for_each
    def length(words: list[str]) -> int:
        seen.append(words)
        return len(words)

    first, second = ["a", "b"], ["a", "b"]
    assert [length(first), length(first), length(second)] == [2, 2, 2]
    assert len(seen) == 2


def test_once_for_each_forgets_the_oldest() -> None:
    seen = []

    @once_for_each
    def number(words: list[int]) -> int:
        seen.append(words[0])
        return words[0]

    subjects = [[index] for index in range(200)]
    assert [number(one) for one in subjects] == list(range(200))
    assert number(subjects[0]) == 0
    assert seen == [*range(200), 0]
