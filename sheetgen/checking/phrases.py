"""What was found and what was expected, in another language: whole sentences by a table of patterns."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.model.finding import Finding

__all__ = ["Phrase", "phrase_of", "phrased", "translated"]

_PLACE = re.compile(r"\{([a-z_]+)\}")
_LONG = 7
_NUMBER = re.compile(r"^(-?[0-9]+)\.([0-9]+)$")


@dataclass(frozen=True, slots=True)
class Phrase:
    """One sentence in two languages.

    pattern : of the English one, with a group for each place. text : the other one, with places in braces.
    weight : letters of the English one that are no place: the more, the sooner it is tried.
    decimal : the decimal sign of numbers in its places.
    """

    pattern: re.Pattern[str]
    text: str
    weight: int
    decimal: str = "."


def phrase_of(english: str, other: str, decimal: str = ".") -> Phrase:
    """Return the phrase of a sentence with places in braces, such as `copy code {code}`, in two languages.

    Raises
    ------
    ValueError : the other sentence has other places.
    """
    parts = _PLACE.split(english)
    literals, places = parts[::2], parts[1::2]
    if set(places) != set(_PLACE.findall(other)) or len(set(places)) != len(places):
        raise ValueError(f"{english!r} and {other!r} have not the same places")
    weight = sum(map(len, literals))
    # A short phrase such as `{one} and {other}` would else fit what a student typed, which stands in quotes.
    content = ".+?" if weight >= _LONG else "[^'\"]+?"
    pattern = re.escape(literals[0])
    for place, literal in zip(places, literals[1:], strict=True):
        pattern += f"(?P<{place}>{content}){re.escape(literal)}"
    return Phrase(re.compile(pattern, re.DOTALL), other, weight, decimal)


def translated(text: str, phrases: Sequence[Phrase]) -> str:
    """Return a text by the first phrase that fits all of it, and what stands in its places by the same rule.

    A text that no phrase fits stays: a code, a number, what a cell holds.

    Parameters
    ----------
    phrases : those with the most letters of their own first.

    Examples
    --------
    >>> translated("copy code 7K3F", [phrase_of("copy code {code}", "código de copia {code}")])
    'código de copia 7K3F'
    """
    for phrase in phrases:
        match = phrase.pattern.fullmatch(text)
        if match is not None:
            places = {
                name: _NUMBER.sub(rf"\1{phrase.decimal}\2", translated(part, phrases))
                for name, part in match.groupdict().items()
            }
            return _with_places(phrase.text, places)
    return text


def _with_places(text: str, places: Mapping[str, str]) -> str:
    return _PLACE.sub(lambda place: places[place.group(1)], text)


def phrased(finding: Finding, phrases: Sequence[Phrase]) -> Finding:
    """Return a finding with what was found and expected in another language; without phrases, the same.

    Notes
    -----
    A remedy comes from the catalogue of the language, unless the finding was made with one of its own; that
    is a whole sentence without places.
    """
    if not phrases:
        return finding
    found, expected = translated(finding.found, phrases), translated(finding.expected, phrases)
    whole = (phrase for phrase in phrases if not phrase.pattern.groups)
    remedy = next(
        (phrase.text for phrase in whole if phrase.pattern.fullmatch(finding.remedy)), finding.remedy
    )
    return replace(finding, found=found, expected=expected, remedy=remedy)
