"""What came of the sheets that people are to hand in: an untouched one, what cannot be used, or nothing."""

import re
import unicodedata
from collections.abc import Iterable

from sheetgen.class_folder.records import Person
from sheetgen.texts.languages import folded

_SHORTEST_ID = 4
"""Of an id of digits alone: shorter ones stand in many names and mean something else."""
_TIMES = re.compile(
    r"(?<![a-z])attempt[ _-]?\d{1,3}(?!\d)|(?<!\d)20\d\d[-_.]?\d\d[-_.]?\d\d(?:[-_ T.]\d\d[-_.:\d]*)?",
    re.IGNORECASE,
)


def person_named(name: str, people: Iterable[Person]) -> str:
    """Return the student_id of the one person whom the name of a file or folder names; empty where it names
    nobody, or several.

    By the id, the email, or the given and the family name, each word of them; accents do not matter.

    Examples
    --------
    >>> people = [Person("L07", "Zoe", "de la Fen"), Person("12", "Al", "Rye", "al@lighthouse.example")]
    >>> [person_named(name, people) for name in ("de-la-fen_zo\u00eb_99.pdf", "l07 (1).pdf", "12.pdf")]
    ['L07', 'L07', '']
    """
    plain = _TIMES.sub(" ", folded(name))
    words = _words(plain)
    found = {person.student_id for person in people if _names(plain, words, person)}
    return found.pop() if len(found) == 1 else ""


def _names(plain: str, words: list[str], person: Person) -> bool:
    own = _words(folded(person.student_id))
    is_short = person.student_id.isdigit() and len(person.student_id) < _SHORTEST_ID
    by_id = not is_short and any(words[place : place + len(own)] == own for place in range(len(words)))
    names = [_words(folded(name)) for name in (person.given_name, person.family_name)]
    by_name = all(names) and not {word for name in names for word in name} - set(words)
    return bool(own and by_id) or by_name or bool(person.email and folded(person.email) in plain)


def _words(plain: str) -> list[str]:
    bare = "".join(sign for sign in unicodedata.normalize("NFD", plain) if not unicodedata.combining(sign))
    return re.findall(r"[^\W_]+", bare)
