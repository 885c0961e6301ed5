"""Draw how a fold is lifted and read, in six steps, as draw_figures.py draws the sites.

A hand is a few strokes that grow and shrink in width: each finger a line of joints with its half width there,
painted from the farthest to the nearest, so that a nearer one has its edge on those behind. All in cm: x to
the right, y down, the mark at (0, 0), the fold upright, the fingers above it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from PIL import Image, ImageDraw, ImageFont

SIZE = (480, 360)
OVERSIZE = 4
CM = 26.0
"""Pixels of the finished picture to a centimetre."""
PAPER, HAND, NAIL, BODY, METAL = 255, 255, 238, 204, 170
EDGE, INK, SOFT = 60, 16, 132

Joint = tuple[float, float, float]
"""x, y and half width."""
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Canvas:
    """left, top : the corner of what is seen [cm]."""

    draw: ImageDraw.ImageDraw
    left: float
    top: float
    scale: float = CM * OVERSIZE

    def at(self, point: Point) -> Point:
        return (point[0] - self.left) * self.scale, (point[1] - self.top) * self.scale

    def disc(self, point: Point, radius: float, grey: int) -> None:
        x, y = self.at(point)
        size = radius * self.scale
        self.draw.ellipse((x - size, y - size, x + size, y + size), fill=grey)

    def stroke(self, points: Sequence[Point], width: float, grey: int) -> None:
        self.sweep([(x, y, width / 2) for x, y in points], grey)

    def sweep(self, joints: Sequence[Joint], grey: int, more: float = 0.0) -> None:
        """A line of discs close together, as wide as its joints say and a little more."""
        for (x, y, wide), (to_x, to_y, to_wide) in pairwise(joints):
            steps = max(1, math.ceil(math.hypot(to_x - x, to_y - y) / 0.03))
            for step in range(steps + 1):
                part = step / steps
                here = (x + (to_x - x) * part, y + (to_y - y) * part)
                self.disc(here, wide + (to_wide - wide) * part + more, grey)

    def surface(self, points: Sequence[Point], grey: int, line: float = 0.09) -> None:
        self.draw.polygon([self.at(point) for point in points], fill=grey)
        if line:
            self.stroke([*points, points[0]], line, EDGE)


def curved(joints: Sequence[Joint]) -> list[Joint]:
    """A smooth way through joints, their widths too."""
    through = [joints[0], *joints, joints[-1]]
    points = []
    for before, start, end, after in zip(through, through[1:], through[2:], through[3:], strict=False):
        for step in range(12):
            t = step / 12
            points.append(
                tuple(
                    b + t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * b - a - 3 * c + d))) / 2
                    for a, b, c, d in zip(before, start, end, after, strict=True)
                )
            )
    return [*points, joints[-1]]  # type: ignore[list-item]


def _finger(canvas: Canvas, joints: Sequence[Joint], nail: float | None = None) -> None:
    """A finger over what is there. nail : where it is shown across the tip, from -1 to 1."""
    way = curved(joints)
    canvas.sweep(way, EDGE, 0.09)
    canvas.sweep(way, HAND)
    if nail is not None:
        _nail(canvas, way, nail)


def _nail(canvas: Canvas, way: Sequence[Joint], across: float) -> None:
    (x, y, _), (tip_x, tip_y, wide) = way[-9], way[-1]
    long = math.hypot(tip_x - x, tip_y - y)
    along = ((tip_x - x) / long, (tip_y - y) / long)
    side = (-along[1] * across * wide, along[0] * across * wide)
    ends = [(tip_x + side[0] + along[0] * far, tip_y + side[1] + along[1] * far) for far in (-0.38, 0.22)]
    for more, grey in ((0.05, EDGE), (0.0, NAIL)):
        canvas.sweep([(*end, 0.62 * wide) for end in ends], grey, more)


def hand(canvas: Canvas, pen: bool = False) -> None:
    """A hand from above, thumb and forefinger closed on a fold above the mark, or on a pen."""
    curled: tuple[tuple[Joint, ...], ...] = (
        ((6.6, -9.6, 1.0), (7.7, -7.6, 0.86), (7.4, -6.2, 0.74), (6.2, -6.0, 0.66)),
        ((5.7, -9.0, 1.0), (6.9, -6.5, 0.92), (6.4, -4.9, 0.8), (5.0, -5.0, 0.72)),
        ((4.8, -8.6, 1.0), (5.8, -5.6, 0.95), (5.2, -3.9, 0.84), (3.7, -4.3, 0.76)),
    )
    for finger in curled:
        _finger(canvas, finger)
    palm: tuple[tuple[Joint, ...], ...] = (
        ((2.6, -16.0, 2.9), (3.2, -10.4, 3.0), (3.6, -9.2, 2.9)),
        ((1.4, -16.0, 2.2), (0.6, -10.0, 2.0), (-0.6, -8.2, 1.5)),
        ((4.4, -12.0, 2.4), (5.4, -9.6, 1.7)),
    )
    for part in palm:
        canvas.sweep(part, EDGE, 0.09)
    for part in palm:
        canvas.sweep(part, HAND)
    fore = (3.3, -9.2, 1.1), (4.0, -6.6, 0.98), (3.1, -4.0, 0.88), (1.8, -2.6, 0.78), (0.95, -1.75, 0.6)
    thumb = (
        (-0.6, -8.6, 1.35),
        (-2.2, -6.2, 1.12),
        (-2.5, -4.2, 1.0),
        (-1.7, -2.7, 0.92),
        (-0.95, -1.75, 0.66),
    )
    # The hand goes on into both without an edge.
    _finger(canvas, fore, 0.3)
    canvas.sweep(((2.9, -10.2, 1.6), (3.45, -8.7, 0.95)), HAND)
    if pen:
        _pen(canvas)
    _finger(canvas, thumb, -0.3)
    canvas.sweep(((0.6, -10.0, 1.6), (-0.7, -8.3, 1.22)), HAND)
    for crease in (((3.4, -4.9), (2.7, -4.5)), ((-2.95, -4.75), (-2.2, -4.5)), ((3.2, -9.0), (3.8, -8.6))):
        canvas.stroke(crease, 0.07, SOFT)


def _pen(canvas: Canvas) -> None:
    for more, grey in ((0.08, EDGE), (0.0, METAL)):
        canvas.sweep(((0.12, -1.0, 0.3), (2.8, -13.0, 0.34)), grey, more)
    canvas.sweep(((0.02, -0.15, 0.06), (0.12, -1.0, 0.3)), INK)


def _fold(canvas: Canvas) -> None:
    """The lifted fold seen from in front: a pale lens."""
    lens = []
    for degree in range(0, 360, 6):
        sine, cosine = math.sin(math.radians(degree)), math.cos(math.radians(degree))
        lens.append((0.62 * sine * abs(sine) ** 0.5, -2.6 * cosine))
    canvas.surface(lens, PAPER, 0.1)


def _cross(canvas: Canvas) -> None:
    for ends in (((-0.42, 0.0), (0.42, 0.0)), ((0.0, -0.42), (0.0, 0.42))):
        canvas.stroke(ends, 0.17, INK)


def _limb(canvas: Canvas) -> None:
    """A piece of a limb behind everything."""
    canvas.surface(
        ((-5.2, -20.0), (-5.4, -4.0), (-5.0, 10.0), (5.0, 10.0), (5.5, -4.0), (5.2, -20.0)), BODY, 0.12
    )


def _caliper(canvas: Canvas, gap: float) -> None:
    """A caliper from below, its jaws square to the fold, so far on each side of the mark [cm]."""
    for side in (-1, 1):
        way = (gap + 0.35, 0.0, 0.22), (gap + 1.3, 0.1, 0.3), (gap + 1.5, 2.4, 0.4), (0.5, 5.0, 0.5)
        arm = curved([(side * x, y, wide) for x, y, wide in way])
        canvas.sweep(arm, EDGE, 0.08)
        canvas.sweep(arm, METAL)
        pad = ((gap, -0.42), (gap + 0.34, -0.42), (gap + 0.34, 0.42), (gap, 0.42))
        canvas.surface([(side * x, y) for x, y in pad], INK, 0.05)
    canvas.disc((0.0, 5.2), 1.28, EDGE)
    canvas.disc((0.0, 5.2), 1.18, PAPER)
    for degree in range(-120, 121, 30):
        angle = math.radians(degree)
        ends = [(far * math.sin(angle), 5.2 - far * math.cos(angle)) for far in (0.85, 1.1)]
        canvas.stroke(ends, 0.07, INK)
    canvas.stroke(((0.0, 5.2), (0.5, 4.45)), 0.12, INK)


def _arrow(canvas: Canvas, start: Point, end: Point, both: bool = False) -> None:
    canvas.stroke((start, end), 0.14, INK)
    for tip, tail in ((end, start), (start, end)) if both else ((end, start),):
        angle = math.atan2(tail[1] - tip[1], tail[0] - tip[0])
        wings = [
            (tip[0] + 0.5 * math.cos(angle + turn), tip[1] + 0.5 * math.sin(angle + turn))
            for turn in (-0.5, 0.5)
        ]
        canvas.surface((tip, *wings), INK, 0.06)


def _words(canvas: Canvas, text: str, place: Point, points: float = 0.85) -> None:
    font = ImageFont.load_default(points * canvas.scale)
    canvas.draw.text(
        canvas.at(place), text, fill=INK, font=font, anchor="mm", stroke_width=10, stroke_fill=PAPER
    )


def _cut(canvas: Canvas, middle: Point) -> None:
    """The same fold cut across, in a ring: jaws half way between root and tip."""
    x, y = middle
    canvas.disc(middle, 2.75, EDGE)
    canvas.disc(middle, 2.66, PAPER)
    bump = [(-2.4, 1.35), (-1.5, 1.3), (-0.8, 0.95), (-0.62, 0.0), (-0.55, -1.0), (0.0, -1.6)]
    way = curved(
        [(x + at, y + down, 0.1) for at, down in [*bump, *((-at, down) for at, down in bump[-2::-1])]]
    )
    canvas.surface([*[(px, py) for px, py, _ in way], (x + 2.1, y + 1.75), (x - 2.1, y + 1.75)], BODY, 0.0)
    canvas.sweep(way, EDGE)
    for side in (-1, 1):
        jaw = ((0.62, -0.35), (2.3, -0.6), (2.3, 0.3), (0.62, 0.05))
        canvas.surface([(x + side * at, y + down - 0.05) for at, down in jaw], INK, 0.05)


def _eye(canvas: Canvas, place: Point, towards: Point, grey: int) -> None:
    """An eye and the straight line from it, dashed."""
    x, y = place
    almond = [(x + 1.0 * math.cos(a), y + 0.62 * math.sin(a) * abs(math.sin(a)) ** 0.6) for a in _turn(12)]
    canvas.surface(almond, PAPER, 0.0)
    canvas.stroke([*almond, almond[0]], 0.11, grey)
    canvas.disc((x + 0.2, y), 0.4, grey)
    canvas.disc((x + 0.32, y - 0.1), 0.13, PAPER)
    steps = 9
    for step in range(steps):
        ends = [
            (x + 1.3 + (towards[0] - x - 1.3) * part, y + (towards[1] - y) * part)
            for part in (step / steps, (step + 0.55) / steps)
        ]
        canvas.stroke(ends, 0.1, grey)


def _turn(step: int) -> list[float]:
    return [math.radians(degree) for degree in range(0, 360, step)]


def _reading(canvas: Canvas) -> None:
    """Eyes, one straight in front of a pointer and one from above, which is crossed out; and a clock."""
    canvas.surface(((3.6, -6.0), (5.8, -6.0), (5.8, 6.0), (3.6, 6.0)), PAPER, 0.12)
    for mark in range(-11, 12):
        canvas.stroke(((3.6, mark * 0.5), (3.6 + (1.1 if mark % 5 == 0 else 0.6), mark * 0.5)), 0.08, INK)
    canvas.surface(((3.5, 0.0), (2.6, -0.32), (2.6, 0.32)), INK, 0.05)
    _eye(canvas, (-6.6, 0.0), (2.5, 0.0), INK)
    _eye(canvas, (-6.0, -4.6), (3.0, -0.5), SOFT)
    for ends in (((-7.2, -5.5), (-4.8, -3.7)), ((-7.2, -3.7), (-4.8, -5.5))):
        canvas.stroke(ends, 0.16, SOFT)
    canvas.disc((-4.6, 4.0), 1.6, EDGE)
    canvas.disc((-4.6, 4.0), 1.48, PAPER)
    canvas.surface(
        [(-4.6, 4.0), *((-4.6 + 1.3 * math.sin(a), 4.0 - 1.3 * math.cos(a)) for a in _turn(6)[:3])],
        METAL,
        0.0,
    )
    canvas.stroke(((-4.6, 4.0), (-4.6, 2.75)), 0.12, INK)
    canvas.surface(((-4.9, 2.1), (-4.3, 2.1), (-4.3, 2.45), (-4.9, 2.45)), EDGE, 0.0)
    _words(canvas, "1-2 s", (-1.1, 4.1), 1.3)


def _order(canvas: Canvas) -> None:
    """Two bars over the same time: that of the fingers is the longer one at both ends."""
    part = 0.33
    for down, middle, draw in ((-3.2, -3.6, _pinch), (2.8, 2.8, _jaws)):
        left, top = ((-6.8 - canvas.left) / part, (down - canvas.top) / part)
        draw(replace(canvas, scale=canvas.scale * part, left=-left, top=middle - top))
    for start, end, y, grey in ((-3.6, 8.6, -3.2, HAND), (-1.4, 6.0, 2.8, METAL)):
        bar = ((start, y - 0.9), (end, y - 0.9), (end, y + 0.9), (start, y + 0.9))
        canvas.surface(bar, grey, 0.12)
    _arrow(canvas, (-3.6, 5.4), (8.8, 5.4))
    for x in (-1.4, 6.0):
        for step in range(8):
            y = -2.3 + step * 0.55
            canvas.stroke(((x, y), (x, y + 0.28)), 0.08, SOFT)


def _pinch(canvas: Canvas) -> None:
    _fold(canvas)
    hand(canvas)


def _jaws(canvas: Canvas) -> None:
    _caliper(canvas, 0.55)


def _measured(canvas: Canvas, gap: float) -> None:
    _limb(canvas)
    _fold(canvas)
    hand(canvas)
    _caliper(canvas, gap)


def step_picture(name: str) -> Image.Image:
    """Return the picture of a step, OVERSIZE times as large as SIZE."""
    image = Image.new("L", (SIZE[0] * OVERSIZE, SIZE[1] * OVERSIZE), PAPER)
    top = {"mark": -9.6, "lift": -10.2}.get(name, -7.2 if name in ("jaws", "open") else -6.9)
    canvas = Canvas(ImageDraw.Draw(image), -9.2, top)
    if name in ("mark", "lift"):
        _limb(canvas)
        if name == "lift":
            _fold(canvas)
        _cross(canvas)
        hand(canvas, pen=name == "mark")
    if name == "lift":
        _arrow(canvas, (2.2, -1.5), (2.2, 0.0), both=True)
        canvas.stroke(((0.6, 0.0), (2.6, 0.0)), 0.07, INK)
        _words(canvas, "1 cm", (3.7, -0.6))
    if name == "jaws":
        _measured(canvas, 0.5)
        _cross(canvas)
        _cut(canvas, (6.2, 3.2))
    if name == "open":
        _measured(canvas, 1.5)
        for side in (-1, 1):
            _arrow(canvas, (side * 0.8, 1.3), (side * 2.2, 1.3))
    if name == "hold":
        _order(canvas)
    if name == "read":
        _reading(canvas)
    return image


STEPS = ("mark", "lift", "jaws", "hold", "read", "open")
"""In the order of the work."""
