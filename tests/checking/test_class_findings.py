import pytest

from sheetgen.checking.class_findings import class_findings
from sheetgen.store.texts import texts_in
from tests.class_samples import CLASSES

TEXTS = texts_in("en", "findings", "report")


@pytest.mark.parametrize("code", CLASSES)
def test_a_class_that_provokes_it(code: str) -> None:
    assert code in {finding.code for finding in class_findings(CLASSES[code](), TEXTS)}


@pytest.mark.parametrize(
    "code",
    [
        code
        for code in CLASSES
        if code not in ("class-site-stands-out", "class-zero-forgotten", "class-same-numbers")
    ],
)
def test_a_class_without_it(code: str) -> None:
    assert code not in {finding.code for finding in class_findings(CLASSES["class-site-stands-out"](), TEXTS)}


def test_findings_about_files_name_codes_and_come_first() -> None:
    findings = class_findings(CLASSES["class-same-numbers"](), TEXTS)
    assert findings[0].code == "class-same-numbers"
    assert findings[0].found.startswith("S05-P04-1 and S20-P19-1: needs a conversation: ")
    assert findings[0].expected == "fewer than 3 sites with both rounds equal"
    assert (findings[0].severity, findings[0].remedy[:22]) == ("warning", "Talk to both students,")


def test_a_site_goes_by_its_title_where_it_has_one() -> None:
    analysis = CLASSES["class-site-stands-out"]()
    found = [
        next(
            one.found
            for one in class_findings(analysis, TEXTS, titles)
            if one.code == "class-site-stands-out"
        )
        for titles in ({"abdominal": "Belly fold"}, {})
    ]
    assert [words.split(" repeats")[0] for words in found] == ["Belly fold", "abdominal"]
