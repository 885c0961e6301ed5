"""The handbook: short pages, each of which begins with the question it answers."""

import difflib

from sheetgen.errors import UsageError
from sheetgen.texts.templates import read_template, templates_folder

_FOLDER = "handbook"
_READ_ME = "read-me-first"


def topics() -> dict[str, str]:
    """Return each topic with the question that its page answers."""
    paths = sorted((templates_folder() / _FOLDER).glob("*.md"))
    names = [path.stem for path in paths if not path.name.startswith(_READ_ME)]
    return {name: _text(name).partition("\n")[0].lstrip("# ") for name in names}


def page(topic: str) -> str:
    """Return a page as plain Markdown, without its pictures, which a terminal cannot show; UsageError where
    there is no such topic; a near one is named."""
    known = topics()
    if topic not in known:
        near = difflib.get_close_matches(topic, known, n=1)
        remedy = (
            f"Did you mean '{near[0]}'?" if near else "`sheetgen handbook` lists them with their questions."
        )
        raise UsageError("handbook", f"no page '{topic[:40]}'", f"one of {', '.join(known)}", remedy)
    lines = [line for line in _text(topic).splitlines() if not line.startswith("![")]
    return "\n".join(lines).rstrip()


def read_me_first(language: str, folder: str) -> str:
    """Return the page that a new class folder begins with. language : a shipped one. folder : the class
    folder as it is typed in a command."""
    return read_template(f"{_FOLDER}/{_READ_ME}.{language}.md").replace("{folder}", folder)


def _text(topic: str) -> str:
    return read_template(f"{_FOLDER}/{topic}.md")
