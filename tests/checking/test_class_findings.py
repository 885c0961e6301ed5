import pytest

from sheetgen.checking.class_findings import class_findings
from tests.class_samples import CLASSES


@pytest.mark.parametrize("code", CLASSES)
def test_a_class_that_provokes_it(code: str) -> None:
    assert code in {finding.code for finding in class_findings(CLASSES[code]())}


@pytest.mark.parametrize(
    "code",
    [
        code
        for code in CLASSES
        if code not in ("class-site-stands-out", "class-zero-forgotten", "class-same-numbers")
    ],
)
def test_a_class_without_it(code: str) -> None:
    assert code not in {finding.code for finding in class_findings(CLASSES["class-site-stands-out"]())}


def test_findings_about_files_name_codes_and_come_first() -> None:
    findings = class_findings(CLASSES["class-same-numbers"]())
    assert findings[0].code == "class-same-numbers"
    assert findings[0].found.startswith("S05-P04-1 and S20-P19-1: needs a conversation: ")
    assert findings[0].expected == "fewer than 3 sites with both rounds equal"
    assert (findings[0].severity, findings[0].remedy) == ("", "")
