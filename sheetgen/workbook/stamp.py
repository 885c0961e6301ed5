"""Many copies of one Layout: write one master, then stamp each copy into it.

The master is rendered once with a mark in place of every value that differs by copy. Its parts are cut at
the marks. A copy is the pieces joined with its own values between them; parts without a mark keep their
compressed bytes. The result holds the same cells as a workbook rendered on its own.
"""

import io
import re
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape

from sheetgen.model.layout import Identity, Layout, Value
from sheetgen.workbook.raw_zip import Entry, deflated, packed
from sheetgen.workbook.render import rendered

__all__ = ["Master", "master_of", "stamped"]

_FIRST_NUMBER = 7_310_000_000
"""Marks for numbers count from here; no entry, code or coefficient is as large."""
_MARK = re.compile(rb"\x7f\x7f([a-z0-9_]+)\x7f\x7f|(?<=<v>)(731\d{7})(?=</v>)")


@dataclass(frozen=True, slots=True)
class Master:
    """A rendered workbook, cut at the marks.

    fixed : parts without a mark, compressed, by name. cut : the others, as pieces of text between names.
    kinds : value name to whether it is a number. order : part names as they follow in the file.
    """

    order: tuple[str, ...]
    fixed: Mapping[str, Entry]
    cut: Mapping[str, tuple[tuple[bytes, ...], tuple[str, ...]]]
    kinds: Mapping[str, bool]


def master_of(
    layout: Layout, example: Identity, style_text: str, figures: Mapping[str, bytes] | None = None
) -> Master:
    """Return the master of a Layout.

    Parameters
    ----------
    example : the identity of any copy; every other copy has the same names, and a number where it has one.
    figures : PNG files by name, at least those that the Layout asks for.

    Raises
    ------
    KeyError : a cell asks for a format word that the style does not have, or the Layout for a figure that is
        not given.
    """
    names = sorted(name for name, value in example.values.items() if value is not None)
    kinds = {name: not isinstance(example.values[name], str) for name in names}
    marks: dict[str, Value] = {
        name: _FIRST_NUMBER + index if kinds[name] else f"\x7f\x7f{name}\x7f\x7f"
        for index, name in enumerate(names)
    }
    data = rendered(layout, Identity(marks), style_text, figures)
    fixed, cut, order = {}, {}, []
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        for info in package.infolist():
            part = package.read(info)
            order.append(info.filename)
            # A mark in the dots of a picture would be chance.
            pieces = _MARK.split(part) if info.filename.endswith((".xml", ".rels")) else [part]
            if len(pieces) == 1:
                fixed[info.filename] = deflated(part)
            else:
                # The pattern has two groups, of which one is empty at each mark.
                found = [
                    text.decode("ascii") if text else names[int(number) - _FIRST_NUMBER]
                    for text, number in zip(pieces[1::3], pieces[2::3], strict=True)
                ]
                cut[info.filename] = (tuple(pieces[::3]), tuple(found))
    return Master(tuple(order), fixed, cut, kinds)


def stamped(master: Master, identity: Identity) -> bytes:
    """Return the workbook of one copy.

    Raises
    ------
    ValueError : a value is missing, or is a text where the master has a number, or the other way round.
    """
    texts = {name: _text(name, identity.values.get(name), number) for name, number in master.kinds.items()}
    entries = {}
    for part, (pieces, names) in master.cut.items():
        joined = [pieces[0]]
        for name, piece in zip(names, pieces[1:], strict=True):
            joined += (texts[name], piece)
        entries[part] = deflated(b"".join(joined))
    return packed([(part, entries.get(part) or master.fixed[part]) for part in master.order])


def _text(name: str, value: Value, number: bool) -> bytes:
    """A value as it stands in a part."""
    if value is None or isinstance(value, str) == number:
        raise ValueError(f"{name} must be {'a number' if number else 'a text'} in every copy, not {value!r}")
    return (f"{value:.16G}" if not isinstance(value, str) else escape(value)).encode("utf-8")
