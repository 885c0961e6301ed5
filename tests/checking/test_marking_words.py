import re
from pathlib import Path

import pytest

from sheetgen.checking.marking import CHECKS
from sheetgen.checking.marking_words import about_title, reason_text, redo_text, slip_title
from sheetgen.checking.slips import WORDS
from sheetgen.layout.vocabulary import ANSWERS, own_steps
from sheetgen.model.marking import Reason, SlipFit
from sheetgen.store.texts import load_texts
from tests.checking.marking_given import PROTOCOL

TEXTS = load_texts("marking.en")
CHECKING = Path(__file__).resolve().parents[2] / "sheetgen" / "checking"


def keys(section: str) -> set[str]:
    return {key.partition(".")[2] for key in TEXTS if key.startswith(f"{section}.")}


# reason, sentence
@pytest.mark.parametrize(
    ("reason", "sentence"),
    [
        (Reason("blank", "sum_mm"), "sum of the sites: left empty"),
        (
            Reason("slip", "sum_mm", (SlipFit("site-twice", "thigh"),)),
            "sum of the sites: a site was counted twice (Thigh). Redo the sum with every site once.",
        ),
        (
            Reason("slip-either", "site_chest", (SlipFit("centimetres"), SlipFit("decimal-slip"))),
            "corrected value, Chest: one of these, which fit equally well: centimetres were used for"
            " millimetres; the decimal point is in another place. Redo this line in millimetres. Redo this"
            " line and look at the decimal point.",
        ),
        (
            Reason("lapses", "readings-complete", (), 2, 14),
            "readings of rounds 1 and 2: 2 of 14 not as it should be",
        ),
        (Reason("all-right"), "all right"),
    ],
)
def test_reason_text(reason: Reason, sentence: str) -> None:
    assert reason_text(reason, PROTOCOL, TEXTS) == sentence


def test_a_conversion_is_called_by_its_title() -> None:
    title = PROTOCOL.conversion("brozek").title
    assert title in slip_title(SlipFit("other-conversion", "brozek"), PROTOCOL, TEXTS)


def test_the_same_advice_stands_there_once() -> None:
    fits = (SlipFit("site-twice", "chest"), SlipFit("site-left-out", "thigh"))
    assert redo_text(fits, TEXTS) == "Redo the sum with every site once."


def test_every_slip_has_its_texts_and_every_text_its_slip() -> None:
    assert keys("slip") == keys("slip_redo") == set(WORDS)


def test_everything_a_reason_can_be_about_has_a_title() -> None:
    abouts = [*CHECKS, *ANSWERS, *(name for _, name in own_steps(PROTOCOL)), "chest"]
    assert [about for about in abouts if about_title(about, PROTOCOL, TEXTS) == about] == []


def test_every_reason_has_a_text_and_every_text_a_reason() -> None:
    code = (CHECKING / "marking.py").read_text(encoding="utf-8")
    quoted = set(re.findall(r'"([a-z-]+)"', code))
    assert keys("mark_reason") - quoted == set()
    assert set(re.findall(r'Reason\(\s*"([a-z-]+)"', code)) <= keys("mark_reason")
