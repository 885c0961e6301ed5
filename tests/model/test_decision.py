from sheetgen.model.decision import DECISION_KINDS, Decision


def test_a_decision_says_as_little_as_it_must() -> None:
    one = Decision(1, 1, "K1", "mark", "", "12")
    assert (one.reason, one.ground, one.drawn) == ("", "", 0)
    assert one.kind in DECISION_KINDS
