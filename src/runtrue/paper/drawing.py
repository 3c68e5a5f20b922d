"""The display list: what a picture is made of before it becomes SVG or PDF.

Lengths are in the drawing's unit (``px`` on a page, ``mm`` on paper), x to the right, y down. Angles are degrees as on
the playing face: 0 at the top, growing against the clock. Colours are roles; the theme gives them their values.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from math import cos, radians, sin
from typing import Literal

from runtrue.paper.faces import ASCENT, DESCENT, Weight, width
from runtrue.paper.tokens import Role

Anchor = Literal["start", "middle", "end"]
Unit = Literal["px", "mm"]
Point = tuple[float, float]


def polar(cx: float, cy: float, radius: float, angle: float) -> Point:
    """Return the point at ``radius`` and ``angle`` [deg, 0 up, against the clock] about (cx, cy).

    Examples
    --------
    >>> x, y = polar(0.0, 0.0, 1.0, 90.0)
    >>> round(x, 9), round(abs(y), 9)
    (-1.0, 0.0)
    """
    return cx - radius * sin(radians(angle)), cy - radius * cos(radians(angle))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A line's colour, width and dashes (on, off)."""

    role: Role
    width: float
    dash: tuple[float, ...] = ()
    round_ends: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """Slanted lines that mark what is out of limit, or where a value may lie."""

    role: Role = Role.HATCH
    gap: float
    width: float
    leaning: Literal["/", "\\"] = "/"


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """Connected points; closed paths can be filled and hatched."""

    points: tuple[Point, ...]
    closed: bool = False
    fill: Role | None = None
    hatch: Hatch | None = None
    stroke: Stroke | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rect:
    """An upright rectangle from its top left corner."""

    x: float
    y: float
    width: float
    height: float
    fill: Role | None = None
    hatch: Hatch | None = None
    stroke: Stroke | None = None
    corner: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A full circle."""

    cx: float
    cy: float
    radius: float
    fill: Role | None = None
    hatch: Hatch | None = None
    stroke: Stroke | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sector:
    """A piece of a ring from ``inner`` to ``outer`` and from angle ``start`` on, against the clock, over ``sweep``.

    With ``inner`` equal to ``outer`` it is an arc and is only stroked; with ``inner`` 0 it is a wedge.
    """

    cx: float
    cy: float
    inner: float
    outer: float
    start: float
    sweep: float
    fill: Role | None = None
    hatch: Hatch | None = None
    stroke: Stroke | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text with its base line at y. ``edge`` is the paper-coloured rim of a label that lies over data."""

    x: float
    y: float
    text: str
    size: float
    weight: Weight = Weight.TEXT
    role: Role = Role.INK
    anchor: Anchor = "start"
    edge: Role | None = None
    tabular: bool = False

    @property
    def box(self) -> "Box":
        """The rectangle the text covers."""
        run = width(self.text, size=self.size, weight=self.weight, tabular=self.tabular)
        left = self.x - {"start": 0.0, "middle": run / 2.0, "end": run}[self.anchor]
        return Box(left=left, top=self.y - ASCENT * self.size, right=left + run, bottom=self.y + DESCENT * self.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Shapes moved together, clipped to a rectangle or circle of their own coordinates when ``clip`` is given."""

    items: tuple["Shape", ...]
    dx: float = 0.0
    dy: float = 0.0
    clip: Rect | Circle | None = None


Shape = Path | Rect | Circle | Sector | Text | Group


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An upright rectangle by its sides."""

    left: float
    top: float
    right: float
    bottom: float

    def touches(self, other: "Box", *, air: float = 0.0) -> bool:
        """Whether the two cover a common area, grown by ``air``."""
        return (
            self.left < other.right + air
            and other.left < self.right + air
            and self.top < other.bottom + air
            and other.top < self.bottom + air
        )

    def within(self, other: "Box", *, slack: float = 0.0) -> bool:
        """Whether this box lies inside the other."""
        return (
            self.left >= other.left - slack
            and self.right <= other.right + slack
            and self.top >= other.top - slack
            and self.bottom <= other.bottom + slack
        )

    def moved(self, dx: float, dy: float) -> "Box":
        """The same box elsewhere."""
        return Box(left=self.left + dx, top=self.top + dy, right=self.right + dx, bottom=self.bottom + dy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A picture: its size, its shapes in painting order, and what it shows in words."""

    title: str
    description: str
    width: float
    height: float
    unit: Unit
    items: tuple[Shape, ...] = field(default_factory=tuple)

    @property
    def frame(self) -> Box:
        """The picture's own rectangle."""
        return Box(left=0.0, top=0.0, right=self.width, bottom=self.height)

    def placed(self, x: float, y: float) -> Group:
        """The picture as a group with its top left corner at (x, y)."""
        return Group(items=self.items, dx=x, dy=y)


def texts(items: tuple[Shape, ...], dx: float = 0.0, dy: float = 0.0) -> Iterator[Text]:
    """Yield every text, moved to the coordinates of the outermost group."""
    for item in items:
        if isinstance(item, Text):
            yield replace(item, x=item.x + dx, y=item.y + dy)
        elif isinstance(item, Group):
            yield from texts(item.items, dx + item.dx, dy + item.dy)


def arrow(tail: Point, tip: Point, *, stroke: Stroke, head: float) -> tuple[Shape, ...]:
    """Return a shaft and a filled head of length ``head``; the fonts have no arrows, so they are drawn."""
    length = ((tip[0] - tail[0]) ** 2 + (tip[1] - tail[1]) ** 2) ** 0.5
    if length == 0.0:
        return ()
    ux, uy = (tip[0] - tail[0]) / length, (tip[1] - tail[1]) / length
    head = min(head, 0.65 * length)
    foot = (tip[0] - ux * head, tip[1] - uy * head)
    half = head * 0.45
    wings = ((foot[0] - uy * half, foot[1] + ux * half), (foot[0] + uy * half, foot[1] - ux * half))
    return (
        Path(points=(tail, foot), stroke=stroke),
        Path(points=(tip, *wings), closed=True, fill=stroke.role),
    )
