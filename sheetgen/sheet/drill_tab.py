"""The reading drill: ten drawn scales of the kinds of caliper in the class, where the pointer of each stands
on a copy, the tab Drill, and what it says of the ten readings.

Every scale shows a fixed window of thirty small marks with a number at each tenth; the pointer stands on a
mark. Half of what is drawn is the same for all scales of a shape, so the hidden tab holds it once.
"""

import math
import random
from collections.abc import Iterator, Sequence
from itertools import product

from msgspec import Struct

from sheetgen.protocols.names import DRILL, DRILL_SLIPS
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper
from sheetgen.sheet.heading import COLUMN_HEADINGS, head, sheet_tab, wrapped_lines
from sheetgen.texts.languages import Texts, shown_number, with_decimal_sign
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import (
    Line,
    chain,
    counted,
    entry,
    height_for,
    identity,
    label,
    number_rule,
)
from sheetgen.workbook.layout import Cell, Plot, PlotLine, Tab, Value

MARKS = 30
"""Small marks of a window, the first of them at its beginning and not counted."""
NUMBERED = 10
_HEIGHTS = {0: 0.3, 5: 0.22}
"""By how many marks past the last number: how high a mark is drawn; any other 0.14."""
_WITH_ZERO = (3, 5, 8, 10)
"""The scales of a caliper that does not read 0 when closed, spread over the kinds of caliper."""
_ZERO_MARKS = (-3, -2, 2, 3)
"""Never one mark: a zero forgotten and a pointer read one mark off are told apart."""
_DIAL_WORDS = ("dial", "esfera", "reloj")
"""A caliper whose build holds one of these words, in any shipped language, is drawn with a dial."""
_RADIUS, _HALF_ANGLE = 1.5, math.radians(40)
_NEEDLE_FROM, _NUMBERS_AT = -0.42, 0.46
_RANGES = {False: (-1.14, 1.14, -0.48, 0.62), True: (-1.4, 1.4, -0.75, 0.58)}
"""Of a straight scale and a dial: what is seen of the plane they are drawn in."""

_POINTER, _SHAPES = 40, {False: 42, True: 46}
"""Columns of the hidden tab: the pointers; marks and numbers of each shape."""
_FIRST = 2
_WIDTHS = (15.3, 19, 14, 1, 10, 24.3, 14)
"""The first is as wide as the title of the tab."""
_SIZE = (338, 148)
"""Of a drawn scale [px]."""
_NOTE_ROW, _PLOT_ROW = 31.5, 117.0


class Scale(Struct, frozen=True):
    """A drawn scale. number : from 1. division : between two marks [mm]. low : where the window begins [mm].
    zeroed : whether the closed caliper reads something else than 0."""

    number: int
    division: float
    low: float
    dial: bool
    zeroed: bool


def scales_of(calipers: Sequence[Caliper]) -> tuple[Scale, ...]:
    """Return the ten scales of a class: its kinds of caliper in turn, from thin folds to thick ones.
    calipers : the register; what is out of service is not drawn while anything else is in it."""
    used = [caliper for caliper in calipers if caliper.in_service] or calipers
    dials = [any(word in caliper.build.casefold() for word in _DIAL_WORDS) for caliper in used]
    kinds = [*dict.fromkeys(zip([caliper.division for caliper in used], dials, strict=True))]
    scales = []
    for number in range(1, len(DRILL) + 1):
        division, dial = kinds[(number - 1) % len(kinds)]
        between = NUMBERED * division
        low = between * max(1, round((4 + 2 * number) / between))
        scales.append(Scale(number, division, round(low, 2), dial, number in _WITH_ZERO))
    return tuple(scales)


def drill_values(calipers: Sequence[Caliper], copy_code: str, texts: Texts) -> dict[str, Value]:
    """Return what the drill of a copy holds of its own: the same for the same copy code on every machine.
    Of each scale `drill_shown_N`, where its pointer stands, and `drill_zero_N`, what the closed caliper reads
    [mm]; both in words; and the ends of the pointer as drawn."""
    dice = random.Random(f"drill {copy_code}")
    marks = [mark for mark in range(MARKS) if mark % NUMBERED >= 2]
    values: dict[str, Value] = {}
    for scale in scales_of(calipers):
        mark = dice.choice(marks)
        zero = round(dice.choice(_ZERO_MARKS) * scale.division, 2) if scale.zeroed else 0.0
        number = scale.low + mark // NUMBERED * NUMBERED * scale.division
        # A trailing nought where the scale has tenths; a sign that no line is broken behind.
        decimals = 0 if scale.division == int(scale.division) else 1
        written = f"{zero:+.{decimals}f}".replace("-", "\N{MINUS SIGN}") if zero else "0"
        words = texts[f"drill.pointer_{'dial' if scale.dial else 'straight'}"].format(
            number=scale.number, count=mark % NUMBERED, past=shown_number(number, texts),
            first=shown_number(scale.low, texts),
            last=shown_number(scale.low + MARKS * scale.division, texts),
        )  # fmt: skip
        note = texts["drill.note_zero" if zero else "drill.note"]
        said = note.format(zero=with_decimal_sign(written, texts))
        values |= {
            f"drill_shown_{scale.number}": round(scale.low + mark * scale.division, 2),
            f"drill_zero_{scale.number}": zero,
            f"drill_note_{scale.number}": said,
            f"drill_words_{scale.number}": words,
        }
        for end, height in (("from", _NEEDLE_FROM), ("to", _height(1))):
            for axis, value in zip("xy", _point(scale.dial, mark, height), strict=True):
                values[f"drill_{end}_{axis}_{scale.number}"] = value
    return values


def _height(mark: int) -> float:
    return _HEIGHTS.get(mark % NUMBERED, 0.14)


def _point(dial: bool, mark: int, height: float) -> tuple[float, float]:
    """A place by its mark and its height over the line of the scale, in the plane of the drawing."""
    along = 2 * mark / MARKS - 1
    if not dial:
        return round(along, 4), round(height, 4)
    angle, radius = along * _HALF_ANGLE, _RADIUS + height
    return round(radius * math.sin(angle), 4), round(radius * math.cos(angle) - _RADIUS, 4)


def drill_cells(calipers: Sequence[Caliper]) -> list[Cell]:
    """Return what the drawings of the scales follow, on the hidden tab: each copy's pointers, and the marks
    and numbers of each shape."""
    cells = []
    ends = product(scales_of(calipers), ("from", "to"))
    for row, (scale, end) in enumerate(ends, start=_FIRST):
        for column, axis in enumerate("xy", start=_POINTER):
            cells.append(identity(row, column, f"drill_{end}_{axis}_{scale.number}", "plain"))
    for dial in sorted({scale.dial for scale in scales_of(calipers)}):
        # Up from the line and back again at each mark, so that one stroke draws line and marks.
        comb = [_point(dial, mark, high) for mark in range(MARKS + 1) for high in (0.0, _height(mark), 0.0)]
        numbers = [_point(dial, mark, _NUMBERS_AT) for mark in range(0, MARKS + 1, NUMBERED)]
        for column, points in ((_SHAPES[dial], comb), (_SHAPES[dial] + 2, numbers)):
            for row, point in enumerate(points, start=_FIRST):
                cells += [label(row, column + at, value, "plain") for at, value in enumerate(point)]
    return cells


def drill_tab(protocol: Protocol, calipers: Sequence[Caliper], texts: Texts) -> Tab:
    """Return the tab Drill: the verdict above ten scales in two columns, each with its entry. One page."""
    scales = scales_of(calipers)
    top = COLUMN_HEADINGS + 3
    headings = [texts[f"drill.{name}"] for name in ("scale", "closed", "answer")]
    wide, none = len(_WIDTHS), texts["drill.typed"].format(0)
    cells = head("drill", wide, 1, protocol, texts, counted=False)
    cells += [
        label(COLUMN_HEADINGS, 0, texts["drill.instruction"], "hint_line", across=wide),
        Cell(
            COLUMN_HEADINGS + 1, 0, "formula", none, "drill_said", "={drill_verdict}", "moment", across=wide
        ),
    ]
    half, plots = len(scales) // 2, []
    for scale in scales:
        right, down = divmod(scale.number - 1, half)
        row, column = top + 2 * down, 4 * right
        if not down:
            cells += [label(top - 1, column + at, title, "column") for at, title in enumerate(headings)]
        name = DRILL[scale.number - 1]
        title = texts["drill.rule_title"].format(number=scale.number)
        cells += [
            label(row, column, scale.number, "scale_number"),
            identity(row, column + 1, f"drill_note_{scale.number}", "words_wrapped"),
            entry(row, column + 2, name, number_rule(texts, "decimal", -10, 120, title, ""), "entry_reading"),
            label(row + 1, column, None, "plain"),
        ]
        plots.append(_plot(scale, row + 1, column, texts))
    lines = (wrapped_lines(texts["drill.instruction"], sum(_WIDTHS)), 2, 1)
    heights = enumerate([*map(height_for, lines), *(_NOTE_ROW, _PLOT_ROW) * half], start=COLUMN_HEADINGS)
    more = {"first_entry": (top, 2), "plots": tuple(plots), "pages": 1}
    return sheet_tab("drill", cells, _WIDTHS, heights, texts, **more)


def _plot(scale: Scale, row: int, column: int, texts: Texts) -> Plot:
    pointer, marks = _FIRST + 2 * (scale.number - 1), _SHAPES[scale.dial]
    numbers = range(0, MARKS + 1, NUMBERED)
    words = tuple(shown_number(scale.low + mark * scale.division, texts) for mark in numbers)
    lines = (
        PlotLine(marks, _FIRST, _FIRST + 3 * MARKS + 2, "ink"),
        PlotLine(marks + 2, _FIRST, _FIRST + len(numbers) - 1, "none", words),
        PlotLine(_POINTER, pointer, pointer + 1, "line_1"),
    )
    return Plot(row, column, *_SIZE, "calculator", _RANGES[scale.dial], lines, f"drill_words_{scale.number}")


def drill_lines(calipers: Sequence[Caliper], texts: Texts) -> Iterator[Line]:
    """Give the lines of the hidden tab that judge the readings: of each its slip, or `right`; how many are
    within half a step; the slip made most often, at least twice; and the verdict, after the tenth."""
    scales = scales_of(calipers)
    numbers = [scale.number for scale in scales]
    for scale in scales:
        names = ("in_drill", "drill_shown", "drill_zero")
        read, shown, zero = (f"{{{name}_{scale.number}}}" for name in names)
        step, near = f"{scale.division:g}", f"{scale.division / 2:g}"
        off = f"ROUND({read}-({shown}-{zero}),2)"
        tests = [
            (f"NOT(ISNUMBER({read}))", '""'),
            (f"ABS({read}/{step}-ROUND({read}/{step},0))>=0.001", '"between"'),
            (f"ABS({off})<={near}", '"right"'),
            (f"AND({zero}<>0,OR(ROUND({read}-{shown},2)=0,{off}=ROUND(2*{zero},2)))", '"zero"'),
            (f"ABS({off})={step}", '"mark"'),
        ]
        yield Line(f"drill_slip_{scale.number}", f"={chain(tests, quoted('other'))}")
        within = f"=IF(ISNUMBER({read}),IF(ABS({off})<={near},1,0),0)"
        yield Line(f"drill_within_{scale.number}", within, 0)
    yield Line("drill_typed", f"=COUNT({','.join(f'{{in_{name}}}' for name in DRILL)})", 0)
    yield Line("drill_within", f"=SUM({','.join(f'{{drill_within_{number}}}' for number in numbers)})", 0)
    for word in DRILL_SLIPS:
        times = counted(f'{{drill_slip_{number}}}="{word}"' for number in numbers)
        yield Line(f"drill_times_{word}", f"={times}", 0)
    yield Line("drill_most", f"=MAX({','.join(f'{{drill_times_{word}}}' for word in DRILL_SLIPS)})", 0)
    often = [(f"{{drill_times_{word}}}={{drill_most}}", f'"{word}"') for word in DRILL_SLIPS]
    yield Line("drill_lean", f"={chain([('{drill_most}<2', quoted('')), *often])}")
    leans = [(f'{{drill_lean}}="{word}"', quoted(texts[f"drill.lean_{word}"])) for word in DRILL_SLIPS]
    no_lean = f'IF({{drill_within}}={len(numbers)},"",{quoted(texts["drill.lean_none"])})'
    before, after = map(quoted, texts["drill.typed"].split("{}"))
    tests = [(f"{{drill_typed}}<{len(numbers)}", f"{before}&{{drill_typed}}&{after}")]
    said = f"{{drill_within}}&{quoted(texts['drill.within'])}&{chain(leans, no_lean)}"
    yield Line("drill_verdict", f"={chain(tests, said)}", texts["drill.typed"].format(0))
