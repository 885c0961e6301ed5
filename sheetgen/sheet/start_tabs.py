"""The tabs Care and Start: the cautions with both roles' yes, and what is typed before the first fold."""

from collections.abc import Sequence

from sheetgen.protocols.names import (
    CAUTIONS_OF_BOTH,
    CAUTIONS_OF_PARTICIPANT,
    FILLED_IN,
    ON_CARE,
    PRACTISED,
    ROUNDS,
    SELDOM,
    START_ENTRIES,
    listed_words,
    midpoints_of,
    sex_words,
    start_entries,
)
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.heading import (
    COLUMN_HEADINGS,
    head,
    lit,
    next_here,
    number_entry,
    sheet_tab,
    words_entry,
    wrapped_lines,
)
from sheetgen.sheet.next_steps import WARNED, practice_shown
from sheetgen.sheet.working import cautions_of, own_rule
from sheetgen.texts.languages import Texts
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import entry, formula, height_for, identity, label, text_rule
from sheetgen.workbook.layout import Cell, Rule, Tab

_INLINE_LIST_LIMIT = 255
_ROW = 25.5
_CARE_WIDTHS = (4, 15, 36, 14, 29, 30, 0)
_CARE_TEXT = 96.1
"""Characters across the columns of a caution, from the second to the one before the last that shows."""
_AGREED, _YES, _AGREED_HINT, _CARE_LINK, _CARE_NEXT = 2, 3, 4, 5, 6
_START_WIDTHS = (33, 18, 39, 2, 43, 14, 0)
_LABEL, _VALUE, _HINT, _, _TODAY, _, _NEXT = range(7)


def care_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Care: the cautions of the person measured first and larger, both roles' yes below."""
    cells = head("care", _CARE_LINK + 1, 2, protocol, texts, counted=False)
    heights, row = list[tuple[int, float]](), COLUMN_HEADINGS
    parts = (("participant", CAUTIONS_OF_PARTICIPANT, 14.0), ("both", CAUTIONS_OF_BOTH, 12.0))
    said, number = cautions_of(protocol, settings, texts), 0
    for part, keys, points in parts:
        format = f"care_{part}"
        cells.append(label(row, 1, texts[f"care.{part}"], "part"))
        heights.append((row, 24.0))
        for key in keys:
            row, number = row + 1, number + 1
            caution = label(row, 1, said[key], format, across=_AGREED_HINT)
            cells += [label(row, 0, number, f"{format}_number"), caution]
            lines = wrapped_lines(said[key], _CARE_TEXT, indent=1, points=points)
            heights.append((row, height_for(lines, points)))
        row += 1
    first = row
    for row, name in enumerate(ON_CARE, start=first):
        title = texts[f"entry.{name}"]
        words = {code: texts[f"word.{code}"] for code in listed_words(name)}
        cells += [
            label(row, _AGREED, title, "label_right"),
            words_entry(row, _YES, name, title, words, texts),
            label(row, _AGREED_HINT, texts[f"hint.{name}"], "hint"),
        ]
        lines = wrapped_lines(texts[f"hint.{name}"], _CARE_WIDTHS[_AGREED_HINT], indent=1)
        heights.append((row, max(_ROW, height_for(lines))))
    cells.append(next_here(first, _CARE_NEXT, "cautions_confirmed"))
    emphases = lit([first], (1, _AGREED_HINT), _YES, _CARE_NEXT)
    more = {"emphases": emphases, "first_entry": (first, _YES), "pages": 1}
    return sheet_tab("care", cells, _CARE_WIDTHS, heights, texts, **more)


def start_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Start: the person measured, the caliper, the lengths with their halves; at the foot what
    is seldom needed."""
    cells = [*head("start", 6, 1, protocol, texts)]
    cells += [label(COLUMN_HEADINGS, column, None, "plain") for column in (_LABEL, _VALUE)]
    row = COLUMN_HEADINGS + 1
    for name in start_entries(protocol):
        if name in (*ON_CARE, *SELDOM):
            continue
        cells += _entry_row(row, name, protocol, settings, texts)
        row += 1
        if name in midpoints_of(protocol):
            cells += _midpoint_row(row, midpoints_of(protocol)[name], texts)
            row += 1
    cells.append(label(row, _LABEL, texts["start.seldom"], "part"))
    for name in SELDOM:
        row += 1
        cells += _entry_row(row, name, protocol, settings, texts)
    cells.append(label(COLUMN_HEADINGS, _TODAY, texts["start.today"], "part"))
    lines = [key for key in texts if key.startswith("start.today_")]
    for at, key in enumerate(lines, start=COLUMN_HEADINGS + 1):
        said = label(at, _TODAY, texts[key], "today")
        said = identity(at, _TODAY, "today_line", "today") if key == "start.today_whom" else said
        cells += [said, label(at, _TODAY + 1, None, "today")]
    heights = _start_heights(cells, row, texts)
    return sheet_tab(
        "start",
        cells,
        _START_WIDTHS,
        ((COLUMN_HEADINGS, 21.0), *heights.items()),
        texts,
        emphases=lit((COLUMN_HEADINGS + 1, row), (_LABEL, _HINT), _VALUE, _NEXT),
        freeze=(COLUMN_HEADINGS, 0),
        landscape=True,
        # What is filled in, here or for each copy, mostly stays.
        first_entry=next(
            (cell.row, _VALUE)
            for cell in cells
            if cell.role == "entry" and cell.value is None and cell.name != "caliper_id"
        ),
    )


def _start_heights(cells: Sequence[Cell], last: int, texts: Texts) -> dict[int, float]:
    """Row to the points that the longest text in it needs, a warning in the place of a hint too."""
    heights = dict.fromkeys(range(COLUMN_HEADINGS + 1, last + 1), _ROW)
    for cell in cells:
        if cell.row in heights and cell.column in (_LABEL, _HINT, _TODAY):
            keys = WARNED.get(cell.name.removeprefix("hint_"), ())
            said = [str(cell.value or ""), *(texts["warning.check"] + texts[key] for key in keys)]
            width = _START_WIDTHS[cell.column]
            needed = max(wrapped_lines(text, width, bold=cell.column == _LABEL, indent=1) for text in said)
            heights[cell.row] = max(heights[cell.row], height_for(needed))
    return heights


def _entry_row(row: int, name: str, protocol: Protocol, settings: SheetSettings, texts: Texts) -> list[Cell]:
    cells = [
        label(row, _LABEL, texts[f"entry.{name}"], "line_label"),
        start_entry(row, _VALUE, name, protocol, settings, texts),
    ]
    if name not in SELDOM or name in ("side", "zero_2_mm", "caliper_id_2"):
        cells.append(next_here(row, _NEXT, name))
    hint = texts[f"hint.{name}"]
    shown = quoted(hint)
    if name in PRACTISED:
        # From a step away a hint with a number looks like any other.
        typed = f"{quoted(texts['ask.type'])}&{practice_shown(name, texts)}"
        shown = f'IF({{in_data_source}}="practice",{typed},{shown})'
    if name in WARNED and not (name == "age_years" and "age_years" not in start_entries(protocol)):
        shown = f'IF({{warning_{name}}}<>"",{{warning_{name}}},{shown})'
    if shown == quoted(hint):
        return [*cells, label(row, _HINT, hint, "hint")]
    return [*cells, formula(row, _HINT, f"={shown}", hint, "hint", f"hint_{name}")]


def start_entry(
    row: int, column: int, name: str, protocol: Protocol, settings: SheetSettings, texts: Texts
) -> Cell:
    """Return the entry of a name on Start."""
    title, known = texts[f"entry.{name}"], START_ENTRIES[name]
    if known.words:
        codes = sex_words(protocol) if name == "sex_equation" else known.words
        words = {code: texts[f"word.{code}"] for code in codes}
        return words_entry(row, column, name, title, words, texts, FILLED_IN.get(name, ""))
    if known.limits is not None:
        return number_entry(row, column, name, title, texts)
    if name == "participant_today":
        return entry(row, column, name, text_rule(texts, 12, title, ""), "entry_word")
    if name.startswith("caliper_id"):
        # A list in a rule is one text with commas between the words, of at most 255 characters; other words
        # are looked up in the register.
        identifiers = tuple(caliper.identifier for caliper in settings.calipers)
        plain = not any("," in word or '"' in word for word in identifiers)
        if not plain or len(",".join(identifiers)) > _INLINE_LIST_LIMIT:
            match = f'MATCH({{{name}}}&"",{{register_identifier_first}}:{{register_identifier_last}},0)'
            rule = Rule("custom", title[:32], "", texts["hint.caliper_id"], formula=f"=ISNUMBER({match})")
            return entry(row, column, name, rule, "entry_word")
        words = {identifier: identifier for identifier in identifiers}
    elif name == "changed_from_round":
        words = {str(number): str(number) for number in ROUNDS}
    else:
        words = {site.word: site.title for site in protocol.sites}
    return words_entry(row, column, name, title, words, texts)


def _midpoint_row(row: int, midpoint: str, texts: Texts) -> list[Cell]:
    """Half of a length, worked out before the site is marked; the sheet answers once it is typed."""
    own = f"own_{midpoint}"
    before, after = texts["start.midpoint"].split("{}")
    hint = texts[f"hint.{own}"]
    answer = f"{quoted(before) + '&' if before else ''}ROUND({{{midpoint}}},2)&{quoted(after)}"
    shown = f"=IF(AND(ISNUMBER({{in_{own}}}),ISNUMBER({{{midpoint}}})),{answer},{quoted(hint)})"
    return [
        label(row, _LABEL, texts[f"entry.{own}"], "label_under"),
        entry(row, _VALUE, own, own_rule(texts[f"entry.{own}"], texts), "entry_reading"),
        formula(row, _HINT, shown, hint, "hint"),
        next_here(row, _NEXT, own),
    ]
