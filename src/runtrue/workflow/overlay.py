"""The overlay: over the picture what was found on it, and below it the two centres magnified."""

from math import cos, hypot, pi, sin
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from runtrue.errors import SurroundingsError
from runtrue.paper.faces import FONTS, Weight
from runtrue.paper.tokens import Role, Theme, colour
from runtrue.stamper.edges import Ring
from runtrue.stamper.picture import PictureCentre

_WIDE = 1500
"""Most pixels across."""
_INK, _SECOND, _PAPER, _LINE = (colour(Theme.LIGHT, role) for role in (Role.INK, Role.INK_2, Role.SHEET, Role.LINE))
_HOLE, _GROOVE = colour(Theme.LIGHT, Role.PETROL), colour(Theme.LIGHT, Role.BRASS)
_GAP = 5.0 * pi / 180.0
"""Part of a ring without points that is left open [rad]: nothing was found there."""


def write_overlay(
    picture: NDArray[np.uint8] | NDArray[np.uint16], found: PictureCentre, out: Path, *, said: tuple[str, ...],
    limit: float | None,
) -> None:  # fmt: skip
    """Draw rings where points were found, gaps where none were, the sentences ``said``, and the centres magnified.

    ``limit`` is that on the offset [m].
    """
    factor = max(1, -(-max(picture.shape) // _WIDE))
    small = picture[::factor, ::factor]
    grey = (small >> 8).astype(np.uint8) if small.dtype == np.uint16 else small
    over = Image.fromarray(np.ascontiguousarray(grey)).convert("RGB")
    panel = round(0.3 * over.width)
    image = Image.new("RGB", (over.width, over.height + panel), _PAPER)
    draw = ImageDraw.Draw(over)
    wide = max(2, over.width // 400)
    rings = (("rim", found.rim, _PAPER), ("label", found.label, _PAPER), ("groove", found.groove, _GROOVE),
             ("hole", found.hole, _HOLE))  # fmt: skip
    for name, ring, ink in rings:
        if ring is not None:
            _ring(draw, ring, factor, ink, wide)
            _name(draw, name, ring, factor, over.width)
    image.paste(over, (0, 0))
    below = ImageDraw.Draw(image)
    _centres(below, found, limit, centre=(over.width - 0.5 * panel, over.height + 0.5 * panel), reach=0.36 * panel)
    _sentences(below, said, (0.025 * over.width, over.height + 0.1 * panel), over.width - 1.15 * panel, over.width)
    try:
        image.save(out)
    except OSError as error:
        raise SurroundingsError(f"overlay {out}: cannot be written ({error.strerror}); check the disk") from None


def _ring(draw: ImageDraw.ImageDraw, ring: Ring, factor: int, ink: str, wide: int) -> None:
    """The ring through its points, open where none were kept; dark below so that it shows on light and dark."""
    turned = np.arctan2(ring.y - ring.circle.y, ring.x - ring.circle.x)
    order = np.argsort(turned)
    angles, xs, ys = turned[order], ring.x[order], ring.y[order]
    gaps = np.diff(angles, append=angles[0] + 2.0 * pi)
    for colour_of, width in ((_INK, wide + 2), (ink, wide)):
        for place in range(angles.size):
            following = (place + 1) % angles.size
            if gaps[place] < _GAP:
                ends = [(-ys[k] / factor, -xs[k] / factor) for k in (place, following)]
                draw.line(ends, fill=colour_of, width=width)


def _name(draw: ImageDraw.ImageDraw, name: str, ring: Ring, factor: int, across: int) -> None:
    """The ring's name beside it, below at the left: outside for hole and groove, inside for label and rim."""
    font = _font(0.022 * across)
    away = ring.circle.radius + (0.03 if name in ("hole", "groove") else -0.03) * across * factor
    row = (-ring.circle.x + away * cos(pi / 5)) / factor
    column = (-ring.circle.y - away * sin(pi / 5)) / factor
    draw.text((column, row), name, fill=_PAPER, font=font, anchor="mm", stroke_width=3, stroke_fill=_INK)


def _centres(
    draw: ImageDraw.ImageDraw, found: PictureCentre, limit: float | None, *, centre: tuple[float, float], reach: float
) -> None:
    """Cross at the groove's centre, arrow to the hole's, its circle of doubt, the limit dashed."""
    vector = found.field
    most = max(vector.length + vector.u95, 1.15 * (limit or 0.0))
    scale = reach / most
    column, row = centre
    wide = max(2, round(reach / 60.0))
    draw.ellipse(_box(column, row, 1.12 * reach), outline=_LINE, width=1)
    if limit is not None:
        for start in range(0, 360, 10):
            draw.arc(_box(column, row, limit * scale), start, start + 6, fill=_INK, width=wide)
    arm = 0.12 * reach
    draw.line((column - arm, row, column + arm, row), fill=_INK, width=wide)
    draw.line((column, row - arm, column, row + arm), fill=_INK, width=wide)
    tip = (column - vector.y * scale, row - vector.x * scale)
    draw.ellipse(_box(*tip, vector.u95 * scale), outline=_SECOND, width=max(1, wide // 2))
    _arrow(draw, (column, row), tip, 1.6 * wide, 0.16 * reach)
    font = _font(0.13 * reach)
    words = "cross: groove, tip: hole"
    draw.text((column, row + 1.24 * reach), words, fill=_SECOND, font=font, anchor="mm")


def _box(column: float, row: float, radius: float) -> tuple[float, float, float, float]:
    return column - radius, row - radius, column + radius, row + radius


def _arrow(
    draw: ImageDraw.ImageDraw, tail: tuple[float, float], tip: tuple[float, float], wide: float, head: float
) -> None:
    length = hypot(tip[0] - tail[0], tip[1] - tail[1])
    if length < 2.0:
        return
    head = min(head, 0.7 * length)
    ux, uy = (tip[0] - tail[0]) / length, (tip[1] - tail[1]) / length
    foot = (tip[0] - head * ux, tip[1] - head * uy)
    draw.line((tail, foot), fill=_HOLE, width=round(wide))
    half = 0.45 * head
    draw.polygon((tip, (foot[0] - half * uy, foot[1] + half * ux), (foot[0] + half * uy, foot[1] - half * ux)),
                 fill=_HOLE)  # fmt: skip


def _sentences(
    draw: ImageDraw.ImageDraw, said: tuple[str, ...], at: tuple[float, float], room: float, across: int
) -> None:
    """The first sentence large, the others below it, broken where they would leave the room."""
    x, y = at
    for place, text in enumerate(said):
        size = (0.027 if place == 0 else 0.019) * across
        font = _font(size, Weight.LABEL if place == 0 else Weight.TEXT)
        for line in _broken(draw, text, font, room):
            draw.text((x, y), line, fill=_INK if place == 0 else _SECOND, font=font)
            y += 1.25 * size
        y += 0.3 * size


def _broken(draw: ImageDraw.ImageDraw, text: str, font: ImageFont.FreeTypeFont, room: float) -> list[str]:
    lines = [""]
    for word in text.split(" "):
        tried = f"{lines[-1]} {word}".strip()
        if draw.textlength(tried, font=font) > room and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = tried
    return lines


def _font(size: float, weight: Weight = Weight.TEXT) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(FONTS / f"AtkinsonHyperlegibleNext-{int(weight)}.ttf"), round(max(size, 10.0)))
