"""Formula texts in one canonical form, so that another program's way of writing is no change of meaning."""

import re
from collections.abc import Mapping
from functools import lru_cache

__all__ = ["canonical", "same_formula"]

_TOKEN = re.compile(
    r"""(?P<text>"(?:[^"]|"")*")          # a text
      |(?P<tab>'(?:[^']|'')*'!)           # a quoted tab
      |(?P<space>\s+)
      |(?P<number>(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?(?![A-Za-z_(]))
      |(?P<word>[A-Za-z_$.\\][\w.$\\]*!?)  # function, name, address, plain tab
      |(?P<other>.)""",
    re.VERBOSE | re.DOTALL,
)
_PREFIX = re.compile(r"^(_XLFN\.|_XLWS\.)+")


def same_formula(ours: str, theirs: str, titles: Mapping[str, str]) -> bool:
    """Tell whether two formulas mean the same.

    Parameters
    ----------
    titles : tab title as found, in lower case, to the title at hand-out, for tabs that were renamed.

    Examples
    --------
    >>> same_formula('=IF($B$9="","",SUM(B9,2.50))', '=if( b9 = "" ; "" ; sum(B$9;2.5))', {})
    True
    >>> same_formula("=B9+1", "=B10+1", {})
    False
    """
    return ours == theirs or canonical(ours, ()) == canonical(theirs, tuple(titles.items()))


@lru_cache(maxsize=4096)
def canonical(formula: str, titles: tuple[tuple[str, str], ...]) -> str:
    """Return a formula without spaces, `$`, quotes round tab titles and `_xlfn.`, in upper case, with commas.

    Notes
    -----
    Texts in quotes stay as they are. Numbers are written the shortest way.
    """
    renamed = {found.casefold(): title for found, title in titles}
    parts = []
    for match in _TOKEN.finditer(formula.removeprefix("=")):
        kind, token = match.lastgroup, match.group()
        if kind == "space":
            continue
        if kind == "number":
            token = repr(float(token))
        elif kind == "tab" or (kind == "word" and token.endswith("!")):
            title = token[1:-2].replace("''", "'") if kind == "tab" else token[:-1]
            title = title.removeprefix("$")
            token = renamed.get(title.casefold(), title).upper() + "!"
        elif kind == "word":
            token = _PREFIX.sub("", token.upper().replace("$", ""))
        elif token == ";":
            token = ","
        parts.append(token)
    return "".join(parts)
