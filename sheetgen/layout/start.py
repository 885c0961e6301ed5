"""The tab Start: how far the sheet is, the first entries, and the cautions beside them."""

from collections.abc import Mapping

from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.calculator_slips import warning_of
from sheetgen.layout.cells import entry, formula, heading_row, identity, label, list_entry
from sheetgen.layout.rules import start_rule
from sheetgen.layout.text_size import height_for, lines_needed
from sheetgen.layout.vocabulary import TEXT_ENTRIES, listed_words, start_entries
from sheetgen.model.layout import Cell, Emphasis, Tab
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["CAUTIONS", "start_tab"]

CAUTIONS = tuple(f"caution.c{number:02}" for number in range(1, 14))

FIRST_ENTRY_ROW = 7
WIDTHS = (26, 18, 40, 1, 96)
LABEL, VALUE, HINT, _, CAUTION = range(5)


def start_tab(protocol: Protocol, settings: SheetSettings, texts: Mapping[str, str]) -> Tab:
    """Return the tab Start."""
    cells = [
        label(0, 0, texts["start.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(1, 0, texts["start.first_words"], "step"),
        *_progress(texts),
        *heading_row(
            FIRST_ENTRY_ROW - 1, [texts[f"start.column_{name}"] for name in ("entry", "value", "hint")]
        ),
        label(6, 4, texts["start.column_caution"], "heading"),
    ]
    names = start_entries(protocol)
    for offset, name in enumerate(names):
        row = FIRST_ENTRY_ROW + offset
        value = {"data_source": "measured", "side": "right"}.get(name)
        rule = start_rule(name, protocol, settings, texts)
        shape = "entry_text" if name in TEXT_ENTRIES else "entry_number"
        is_list = bool(listed_words(name))
        cells += [
            label(row, 0, texts[f"entry.{name}"], "label_wrapped"),
            list_entry(row, 1, name, rule, value) if is_list else entry(row, 1, name, rule, shape, value),
            _hint(row, name, texts),
        ]
    cells += [label(FIRST_ENTRY_ROW + at, CAUTION, texts[key], "wrap") for at, key in enumerate(CAUTIONS)]
    last = FIRST_ENTRY_ROW + len(names) - 1
    check = texts["warning.check"]
    warned = f"=LEFT($C{FIRST_ENTRY_ROW + 1},{len(check)})={quoted(check)}"
    return Tab(
        "start",
        texts["tab.start"],
        tuple(sorted(cells, key=lambda cell: (cell.row, cell.column))),
        widths=WIDTHS,
        heights=((0, 24.0), *((row, 20.0) for row in range(1, FIRST_ENTRY_ROW)), *_heights(cells)),
        emphases=(
            Emphasis(2, VALUE, 2, CAUTION, f"={{shown_next_step}}<>{quoted(texts['step.done'])}", "wanted"),
            Emphasis(FIRST_ENTRY_ROW, HINT, last, HINT, warned, "wanted"),
        ),
        freeze=(FIRST_ENTRY_ROW, 0),
        landscape=True,
        first_entry=(FIRST_ENTRY_ROW, 1),
    )


def _heights(cells: list[Cell]) -> list[tuple[int, float]]:
    """Each row as tall as its tallest text: the label, the hint as handed out, or the caution beside it."""
    lines: dict[int, int] = {}
    for cell in cells:
        if cell.row >= FIRST_ENTRY_ROW and cell.role != "entry":
            # A hint turns bold where it becomes a warning.
            bold = cell.column in (LABEL, HINT)
            needed = lines_needed(str(cell.value), WIDTHS[cell.column], bold, indent=1)
            lines[cell.row] = max(lines.get(cell.row, 2), needed)
    return [(row, height_for(needed)) for row, needed in sorted(lines.items())]


def _progress(texts: Mapping[str, str]) -> list[Cell]:
    of, made = quoted(texts["start.entries_of"]), quoted(texts["start.entries_made"])
    step = "INDEX({step_text_first}:{step_text_last},MATCH({next_step},{step_word_first}:{step_word_last},0))"
    not_yet = quoted(texts["start.ready_no"])
    first_step = texts["step.cautions"]
    return [
        label(2, 0, texts["start.next_step"], "label"),
        formula(2, 1, f"={step}", first_step, "step", "shown_next_step"),
        label(3, 0, texts["start.entries"], "label"),
        formula(
            3, 1, f"={{entries_made}}&{of}&{{entries_due}}&{made}",
            "", "words", "shown_entries",
        ),
        label(4, 0, texts["start.own"], "label"),
        formula(
            4, 1, f"={{own_done}}&{of}&{{own_due}}&{quoted(texts['start.own_made'])}",
            "0" + texts["start.entries_of"] + "0" + texts["start.own_made"], "words",
        ),
        label(5, 0, texts["start.ready"], "label"),
        formula(
            5, 1, f'=IF({{ready}}="yes",{quoted(texts["start.ready_yes"])},{not_yet}&{{shown_next_step}})',
            texts["start.ready_no"] + first_step, "words",
        ),
    ]  # fmt: skip


def _hint(row: int, name: str, texts: Mapping[str, str]) -> Cell:
    """The unit and how; the midpoint once a length is there; the practice value where practice is chosen."""
    hint = texts[f"hint.{name}"]
    shown = quoted(hint)
    if name.startswith("length_"):
        midpoint = name.replace("length_", "midpoint_")
        before, after = texts["start.midpoint"].split("{}")
        text = f"{quoted(before)}&ROUND({{{midpoint}}},2)&{quoted(after)}"
        shown = f"IF(ISNUMBER({{{midpoint}}}),{text},{shown})"
    if name in ("age_years", "sex_equation", "mass_kg", "zero_mm", "length_upper_arm_cm", "length_thigh_cm"):
        value = f"{{practice_{name}}}"
        for code in listed_words(name):
            if (word := texts[f"word.{code}"]) != code:
                value = f'IF({{practice_{name}}}="{code}",{quoted(word)},{value})'
        typed, right = f"{{in_{name}}}", f"{{practice_{name}}}"
        check = f'IF(OR({typed}="",{typed}={right}),"",{quoted(texts["warning.check"])})'
        practice = f"{check}&{quoted(texts['start.practice'])}&{value}"
        shown = f'IF({{in_data_source}}="practice",{practice},{shown})'
    if warning := warning_of(name):
        shown = f'IF({{{warning}}}<>"",{{{warning}}},{shown})'
    if shown == quoted(hint):
        return label(row, HINT, hint, "hint")
    return formula(row, HINT, f"={shown}", hint, "hint")
