"""The catalogue of findings, from templates/text/findings.LANGUAGE.toml."""

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache

from msgspec.structs import replace

from sheetgen.finding import PRIVATE, Finding, FindingKind, Plain, Refusal, Shown, Values, Worded
from sheetgen.texts.languages import DEFAULT_LANGUAGE, Texts, texts_in, with_decimal_sign


def finding_texts(language: str = DEFAULT_LANGUAGE) -> dict[str, str]:
    """Return the words of findings in a language, with those of its numbers."""
    return texts_in(language, "sheet", "findings")


@lru_cache(maxsize=8)
def load_catalogue(language: str = DEFAULT_LANGUAGE) -> dict[str, FindingKind]:
    """Return every kind of finding by its code. Severities and questions stand in English only: no language
    changes what becomes of a file. What a finding means and its remedy are in English where the language has
    none."""
    texts = texts_in(language, "findings")
    codes = [key.removesuffix(".severity") for key in texts if key.endswith(".severity")]
    return {
        code: FindingKind(
            code,
            texts[f"{code}.severity"],
            texts.get(f"{code}.question") == "yes",
            texts[f"{code}.means"],
            texts[f"{code}.remedy"],
        )
        for code in codes
    }


Catalogue = Mapping[str, FindingKind]

_HIDDEN = "..."
_FIRST_OF = "first-of"
_LONGEST_QUOTED = 80


def completed(findings: Iterable[Finding], catalogue: Catalogue) -> tuple[Finding, ...]:
    """Return findings with the severity of their code; KeyError where a code is not in the catalogue."""
    return tuple(replace(finding, severity=catalogue[finding.code].severity) for finding in findings)


def worded(finding: Finding, texts: Texts, on_screen: bool = False) -> Worded:
    """Return a finding in words: the templates of its code, with its values as the language writes them.

    texts : of a language, with those of findings and of numbers.
    on_screen : others may look on, or names stand beside it, so what is private is left out.

    Of several templates the one of the finding's case is taken, such as `CODE.found-CASE`; where there is
    none for it, `CODE.found`; where there is none of the code, that of its family.

    >>> texts = {"a-b.found": "{reading} mm", "a-b.expected": "at most {most} mm", "a-b.remedy": "Look."}
    >>> one = Finding("a-b", {"reading": Shown("measured", 61.5), "most": 60.0})
    >>> worded(one, texts).found, worded(one, texts, on_screen=True).found, worded(one, texts).expected
    ('61.5 mm', '... mm', 'at most 60 mm')
    """
    found, expected = (
        _filled(f"{finding.code}.{part}-{finding.case}", finding.values, texts, on_screen)
        for part in ("found", "expected")
    )
    if finding.count > 1:
        found = texts[f"term.{_FIRST_OF}"].format(found=found, count=finding.count)
    remedy, place = texts[f"{finding.code}.remedy"], (finding.tab, finding.cell)
    return Worded(finding.code, finding.severity, found, expected, remedy, *place, finding.count)


def in_short(finding: Finding, texts: Texts) -> str:
    """Return in a few words what a finding says, without what is private; they begin small, without a stop.

    >>> texts = {"a-b.said": "{apart} mm apart", "c-d.means": "A tab is not in the file. Ask for it."}
    >>> in_short(Finding("a-b", {"apart": 4.0}), texts), in_short(Finding("c-d"), texts)
    ('4 mm apart', 'a tab is not in the file')
    """
    if f"{finding.code}.said" in texts:
        return _filled(f"{finding.code}.said", finding.values, texts, on_screen=True)
    first = texts[f"{finding.code}.means"].partition(". ")[0].rstrip(".")
    return first[:1].lower() + first[1:]


_ANSWER = re.compile('["«](.+)["»]', re.DOTALL)


def ready_answer(code: str, texts: Texts) -> str:
    """Return what to answer the student, which stands in quotes in the remedy; empty where nothing does.

    >>> ready_answer("a-b", {"a-b.remedy": 'Answer: "Please send it again."'})
    'Please send it again.'
    """
    match = _ANSWER.search(texts[f"{code}.remedy"])
    return match[1] if match else ""


def template_of(key: str, texts: Texts) -> str:
    """Return the template of a key such as `CODE.found-CASE`; else that of the code, else of its family."""
    code, _, part = key.partition(".")
    part = part.partition("-")[0]
    return texts.get(key) or texts.get(f"{code}.{part}") or texts[f"{code.partition('-')[0]}.{part}"]


def _filled(key: str, values: Values, texts: Texts, on_screen: bool) -> str:
    shown = {name: _shown(value, texts, on_screen) for name, value in values.items()}
    # An entry goes by its label on the sheet; a defined name of the file stays one.
    label = texts.get(f"entry.{shown.get('name')}") if key.startswith("entry-") else ""
    if label:
        shown["name"] = f"{label[:1].lower()}{label[1:]}"
    return template_of(key, texts).format(**shown)


def _shown(value: Plain | Shown | tuple[str | Shown, ...], texts: Texts, on_screen: bool) -> str:
    if isinstance(value, tuple):
        return ", ".join(_shown(part, texts, on_screen) for part in value)
    if isinstance(value, str):
        return value
    if isinstance(value, int | float):
        return with_decimal_sign(f"{value:.15g}", texts)
    content = value.content
    if on_screen and value.kind in PRIVATE:
        return _HIDDEN
    if value.kind == "term":
        return _filled(str(content), value.values, texts, on_screen)
    if value.kind == "listed" and isinstance(content, tuple):
        return f" {texts[f'term.{value.joint}']} ".join(content)
    if value.kind == "amount":
        return f"{content:,}"
    if value.kind == "measured":
        return _shown(content, texts, on_screen) if isinstance(content, str | int | float) else ""
    return str(content) if value.kind == "written" else repr(content)[:_LONGEST_QUOTED]


def in_words(findings: Iterable[Finding], language: str, on_screen: bool = True) -> tuple[Worded, ...]:
    """Return findings in a language; on a screen without what is private."""
    texts = finding_texts(language)
    return tuple(worded(finding, texts, on_screen) for finding in findings)


def of_refusal(refusal: Refusal) -> Finding:
    """Return the finding about a returned file that is not read."""
    return Finding(refusal.code, refusal.values, case=refusal.case)


def refusal_in_words(refusal: Refusal) -> Worded:
    """Return what is wrong with a file of the teacher's own, which may be in any language, in English."""
    return worded(of_refusal(refusal), finding_texts(DEFAULT_LANGUAGE))
