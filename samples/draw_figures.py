"""Draw the figures of the skinfold sites into templates/figures: `python samples/draw_figures.py [FOLDER]`.

Each figure holds two pictures: the whole body with a frame, and what is inside that frame, large. On it stand
the mark (a cross), the fold (a pale lens along its direction, the jaws beside it) and the landmarks, points
without letters: the sheet says in its language where the mark is. WORD-small.png is a piece around the mark,
WORD-large.png the figure for a page of its own.
fold-STEP.png is a step of lifting and reading a fold, drawn by draw_steps.py.
Everything is drawn four times as large and reduced, in sixteen greys.
"""

import io
import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

sys.path.insert(0, str(Path(__file__).resolve().parent))

import draw_steps
from body_outlines import BACK, FRONT, INNER_LEG, SIDE, STATURE, Outline, Point

ROOT = Path(__file__).resolve().parents[1]
WIDTH, HEIGHT = 420, 340
SMALL, LARGE = (96, 64), (1050, 850)
OVERSIZE = 4
GREYS = 16
PAPER, SKIN, CLOTH, THING = 255, 233, 203, 218
OUTLINE, INSIDE, FRAME, INK = 84, 138, 150, 16
STEPS = 14
"""Straight pieces between two points of a curve."""

BODY_BOX = (6, 8, 142, 332)
CLOSE_BOX = (156, 8, 414, 332)


@dataclass(frozen=True, slots=True)
class Figure:
    """One site.

    view : what the close-up shows. centre, width : of the close-up, in cm. mark : where the cross is.
    slope : of the fold, degrees from upright, clockwise.
    landmarks : (place, hidden behind the body).
    dashes : thin dashed lines. rules : thin whole lines. ring : another mark.
    notes : texts and where they stand. size : of the fold.
    whole : the body beside it. frame : on that body, where it is not the close-up itself.
    """

    view: Outline
    centre: Point
    width: float
    mark: Point
    slope: float
    landmarks: tuple[tuple[Point, bool], ...]
    dashes: tuple[tuple[Point, ...], ...] = ()
    rules: tuple[tuple[Point, ...], ...] = ()
    ring: Point | None = None
    notes: tuple[tuple[str, Point], ...] = ()
    size: float = 1.0
    whole: Outline | None = None
    frame: tuple[float, float, float, float] | None = None


FIGURES = {
    "chest": Figure(
        FRONT, (-13.0, 46.4), 13, (-13.0, 46.1), -61,
        (((-16.4, 44.2), False), ((-9.6, 48.0), False)),
        dashes=(((-16.4, 44.2), (-9.6, 48.0)),),
        ring=(-14.13, 45.47), size=0.62, notes=(("1/3", (-13.5, 43.3)), ("1/2", (-13.6, 49.2))),
    ),
    "midaxillary": Figure(
        SIDE, (1, 54), 36, (0.2, 55.0), 0,
        (((0.2, 44.6), False), ((9.9, 55.0), False)),
        dashes=(((0.2, 44.6), (0.2, 70)), ((9.9, 55.0), (-8.6, 55.0))),
    ),
    "triceps": Figure(
        BACK, (19, 48.5), 36, (21.65, 48.6), -10,
        (((18.9, 32.6), False), ((24.4, 64.6), False)),
        dashes=(((18.9, 32.6), (24.4, 64.6)),),
    ),
    "subscapular": Figure(
        BACK, (11.5, 45.5), 18.5, (10.3, 48.7), -45,
        (((9.2, 46.6), False),),
        size=0.85,
    ),
    "abdominal": Figure(
        FRONT, (-4.4, 71), 14, (-2.0, 69.2), 0,
        (((0, 69.2), False),),
        size=0.62, notes=(("2 cm", (-1.2, 74.4)),),
        rules=(((-2, 71.4), (-2, 72.4), (0, 72.4), (0, 70.4)),),
    ),
    "suprailiac": Figure(
        SIDE, (1, 63.5), 34, (5.4, 72.9), -58,
        (((5.4, 47.2), False), ((-1.6, 74.2), False)),
        dashes=(((5.4, 47.2), (5.4, 72)),),
    ),
    "suprailiac-side": Figure(
        SIDE, (1, 63.5), 34, (0.2, 71.4), -58,
        (((0.2, 44.6), False), ((-4.4, 75.1), False)),
        dashes=(((0.2, 44.6), (0.2, 71)),),
    ),
    "thigh": Figure(
        FRONT, (-9, 106), 40, (-9.2, 103.4), 0,
        (((-9.0, 86.2), False), ((-9.2, 120.6), False)),
        dashes=(((-9.0, 86.2), (-9.2, 120.6)), ((-16, 80.4), (-9.0, 86.2), (-2, 91.4))),
    ),
    "biceps": Figure(
        FRONT, (-19, 48.5), 36, (-21.2, 48.4), 10,
        (((-20.2, 32.8), False), ((-27.4, 64.4), True)),
        dashes=(((-20.2, 32.8), (-24.6, 48.9), (-27.4, 64.4)), ((-24.6, 48.9), (-18.4, 47.9))),
    ),
    "calf": Figure(
        INNER_LEG, (10, 38), 50, (8.6, 30), 0,
        (((17.2, 30), False),),
        dashes=(((1.0, 30), (17.2, 30)),),
        whole=FRONT, frame=(-17, 117, -1, 150),
    ),
}  # fmt: skip
"""By the word of the site; suprailiac-side is the other description of that site, on the side of the body."""


@dataclass(frozen=True, slots=True)
class _Window:
    """Centimetres of a view to pixels of the large drawing."""

    draw: ImageDraw.ImageDraw
    scale: float
    left: float
    top: float

    def at(self, point: Point) -> Point:
        return (self.left + point[0] * self.scale, self.top + point[1] * self.scale)

    def path(self, curve: Sequence[Point], closed: bool) -> list[Point]:
        return [self.at(point) for point in _smooth(curve, closed)]


def _smooth(curve: Sequence[Point], closed: bool) -> list[Point]:
    """A Catmull-Rom curve through the points, as short straight pieces."""
    ends = (curve[-1], curve[0], curve[1]) if closed else (curve[0], curve[-1], curve[-1])
    through = [ends[0], *curve, ends[1], ends[2]] if closed else [ends[0], *curve, ends[1]]
    points: list[Point] = []
    for before, start, end, after in zip(through, through[1:], through[2:], through[3:], strict=False):
        if start == end:
            continue
        for step in range(STEPS):
            points.append(_between(before, start, end, after, step / STEPS))
    points.append(points[0] if closed else curve[-1])
    return points


def _between(before: Point, start: Point, end: Point, after: Point, t: float) -> Point:
    def one(a: float, b: float, c: float, d: float) -> float:
        return b + t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * b - a - 3 * c + d))) / 2

    return (one(before[0], start[0], end[0], after[0]), one(before[1], start[1], end[1], after[1]))


def _stroke(draw: ImageDraw.ImageDraw, path: Sequence[Point], grey: int, width: float) -> None:
    """A line as a row of discs close together: the library's own wide lines have ragged edges."""
    radius = width / 2
    for (x, y), (to_x, to_y) in pairwise(path):
        count = max(1, math.ceil(math.hypot(to_x - x, to_y - y) / (radius / 5)))
        for step in range(count + 1):
            along, down = x + (to_x - x) * step / count, y + (to_y - y) * step / count
            draw.ellipse((along - radius, down - radius, along + radius, down + radius), fill=grey)


def _surface(window: _Window, curves: Sequence[Sequence[Point]], fill: int, line: float) -> None:
    """Closed curves as one surface: every edge first, then every filling over the edges inside."""
    paths = [window.path(curve, True) for curve in curves]
    for path in paths:
        _stroke(window.draw, path, OUTLINE, 2 * line)
    for path in paths:
        window.draw.polygon(path, fill=fill)


def _body(window: _Window, outline: Outline, line: float, inside: bool = True) -> None:
    _surface(window, outline.things, THING, line / 2)
    _surface(window, outline.skin, SKIN, line)
    _surface(window, outline.cloth, CLOTH, line)
    for curve in outline.lines if inside else ():
        _stroke(window.draw, window.path(curve, False), INSIDE, line)


def _dashed(window: _Window, points: Sequence[Point], width: float, dash: float) -> None:
    for start, end in pairwise(points):
        (x, y), (to_x, to_y) = window.at(start), window.at(end)
        length = math.hypot(to_x - x, to_y - y)
        for number in range(int(length / dash / 2) + 1):
            first, last = 2 * number * dash / length, min((2 * number + 1) * dash / length, 1)
            if first < 1:
                piece = [(x + (to_x - x) * part, y + (to_y - y) * part) for part in (first, last)]
                _stroke(window.draw, piece, INK, width)


def _turned(centre: Point, along: float, across: float, slope: float) -> Point:
    """A place by its way along the fold and across it."""
    sine, cosine = math.sin(math.radians(slope)), math.cos(math.radians(slope))
    return (centre[0] + across * cosine - along * -sine, centre[1] + across * sine - along * cosine)


def _fold(window: _Window, mark: Point, slope: float, size: float) -> None:
    """The lifted fold, the jaws at right angles to it, and the cross on the mark."""
    centre = window.at(mark)
    half, wide = 31 * size, 8 * size
    lens = [
        _turned(centre, half * math.cos(angle), wide * math.sin(angle) * abs(math.sin(angle)) ** 0.5, slope)
        for angle in (math.radians(degree) for degree in range(0, 360, 4))
    ]
    window.draw.polygon(lens, fill=PAPER)
    _stroke(window.draw, [*lens, lens[0]], INK, 2.6 * size)
    for side in (-1, 1):
        tip, base = side * 11 * size, side * 27 * size
        jaw = [
            _turned(centre, along, across, slope)
            for along, across in ((0, tip), (8 * size, base), (-8 * size, base))
        ]
        window.draw.polygon(jaw, fill=INK)
        _stroke(window.draw, [*jaw, jaw[0]], INK, 2 * size)
    for along, across in ((9 * size, 0), (0, 6.5 * size)):
        ends = [_turned(centre, sign * along, sign * across, slope) for sign in (-1, 1)]
        _stroke(window.draw, ends, INK, 3.2 * size)


def _dot(window: _Window, place: Point, hidden: bool) -> None:
    x, y = window.at(place)
    for radius, grey in ((9, PAPER), (6.5, INK), (3.4, PAPER if hidden else INK)):
        size = radius * OVERSIZE
        window.draw.ellipse((x - size, y - size, x + size, y + size), fill=grey)


def _ring(window: _Window, place: Point) -> None:
    x, y = window.at(place)
    for radius, grey in ((5, INK), (2.6, PAPER)):
        size = radius * OVERSIZE
        window.draw.ellipse((x - size, y - size, x + size, y + size), fill=grey)


def _words(window: _Window, text: str, place: Point, size: float = 38) -> None:
    font = ImageFont.load_default(size * OVERSIZE)
    window.draw.text(
        window.at(place), text, fill=INK, font=font, anchor="mm", stroke_width=4 * OVERSIZE, stroke_fill=PAPER
    )


def _landmarks(window: _Window, figure: Figure) -> None:
    for dash in figure.dashes:
        _dashed(window, dash, 2.2 * OVERSIZE, 6 * OVERSIZE)
    for place, hidden in figure.landmarks:
        _dot(window, place, hidden)
    for rule in figure.rules:
        for start, end in pairwise(rule):
            _stroke(window.draw, [window.at(start), window.at(end)], INK, 2 * OVERSIZE)
    for text, place in figure.notes:
        _words(window, text, place)


def _blank(width: int, height: int) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    image = Image.new("L", (width * OVERSIZE, height * OVERSIZE), PAPER)
    return image, ImageDraw.Draw(image)


def _close_up(figure: Figure, width: int, height: int, of_width: float, plain: bool) -> Image.Image:
    image, draw = _blank(width, height)
    scale = width * OVERSIZE / of_width
    x, y = figure.mark if plain else figure.centre
    window = _Window(draw, scale, width * OVERSIZE / 2 - x * scale, height * OVERSIZE / 2 - y * scale)
    _body(window, figure.view, (1.6 if plain else 2.6) * OVERSIZE)
    if not plain:
        _landmarks(window, figure)
    _fold(window, figure.mark, figure.slope, (0.8 if plain else figure.size) * OVERSIZE)
    if figure.ring is not None and not plain:
        _ring(window, figure.ring)
    return image


def drawn(figure: Figure) -> Image.Image:
    """Return the figure of a site, OVERSIZE times WIDTH x HEIGHT."""
    image, draw = _blank(WIDTH, HEIGHT)
    left, top, right, bottom = CLOSE_BOX
    image.paste(
        _close_up(figure, right - left, bottom - top, figure.width, False), (left * OVERSIZE, top * OVERSIZE)
    )
    _frame(draw, [side * OVERSIZE for side in CLOSE_BOX], 2 * OVERSIZE)
    _whole(draw, figure)
    return image


def _whole(draw: ImageDraw.ImageDraw, figure: Figure) -> None:
    """The body at the left, with a frame around what the close-up shows."""
    left, top, right, bottom = (side * OVERSIZE for side in BODY_BOX)
    scale = (bottom - top) / (STATURE + 1)
    outline = figure.whole or figure.view
    middle = (left + right) / 2 - (17 * scale if outline is SIDE else 0)
    window = _Window(draw, scale, middle, top + scale / 2)
    _body(window, outline, 1.3 * OVERSIZE, inside=False)
    if figure.frame is None:
        (x, y), half = figure.centre, figure.width / 2
        tall = half * (CLOSE_BOX[3] - CLOSE_BOX[1]) / (CLOSE_BOX[2] - CLOSE_BOX[0])
        box = (x - half, y - tall, x + half, y + tall)
    else:
        box = figure.frame
    corners = [*window.at((box[0], box[1])), *window.at((box[2], box[3]))]
    _frame(draw, corners, 2 * OVERSIZE, INK)


def _frame(draw: ImageDraw.ImageDraw, box: list[float], width: int, grey: int = FRAME) -> None:
    draw.rounded_rectangle(box, radius=4 * OVERSIZE, outline=grey, width=width)


def drawn_small(figure: Figure) -> Image.Image:
    """Return a piece of the figure of a site around its mark."""
    return _reduced(_close_up(figure, *SMALL, max(figure.width, 26), True), SMALL)


def _reduced(image: Image.Image, size: tuple[int, int]) -> Image.Image:
    step = 255 / (GREYS - 1)
    greys = [round(round(value / step) * step) for value in range(256)]
    return image.resize(size, Image.Resampling.LANCZOS).point(greys)


def png_bytes(image: Image.Image) -> bytes:
    """Return a picture of few greys as a PNG file of four bits a dot."""
    palette = Image.new("P", image.size)
    step = 255 / (GREYS - 1)
    palette.putpalette([round(number * step) for number in range(GREYS) for _channel in range(3)])
    palette.putdata([round(value / step) for value in image.tobytes()])
    stream = io.BytesIO()
    palette.save(stream, "PNG", bits=4, optimize=True)
    return stream.getvalue()


def _write(path: Path, image: Image.Image) -> None:
    path.write_bytes(png_bytes(image))
    print(path, path.stat().st_size)


def main(arguments: Sequence[str]) -> int:
    """Command line: [FOLDER]."""
    folder = Path(arguments[0]) if arguments else ROOT / "templates" / "figures"
    folder.mkdir(parents=True, exist_ok=True)
    for word, figure in FIGURES.items():
        large = drawn(figure)
        _write(folder / f"{word}.png", _reduced(large, (WIDTH, HEIGHT)))
        _write(folder / f"{word}-large.png", _reduced(large, LARGE))
        _write(folder / f"{word}-small.png", drawn_small(figure))
    for step in draw_steps.STEPS:
        image = _reduced(draw_steps.step_picture(step), draw_steps.SIZE)
        _write(folder / f"fold-{step}.png", image)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
