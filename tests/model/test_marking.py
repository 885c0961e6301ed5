import pytest

from sheetgen.model.marking import Marking, ToBeMarked

ANSWER = ToBeMarked("questions", "answer_zero", 5, "More.")


# maximum, what waits for a person, status
@pytest.mark.parametrize(
    ("maximum", "waiting", "status"),
    [(100, (), "final"), (100, (ANSWER,), "to be marked"), (0, (), "exempt")],
)
def test_status(maximum: float, waiting: tuple[ToBeMarked, ...], status: str) -> None:
    assert Marking("usual", (), 0, maximum, waiting).status == status
