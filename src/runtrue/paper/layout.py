"""Sizes of lines and type for page and paper, and room for labels that must not lie on each other."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from runtrue.paper.drawing import Anchor, Box, Hatch, Stroke, Text, Unit
from runtrue.paper.faces import Weight
from runtrue.paper.tokens import Role

POINT = 25.4 / 72.0
"""Millimetres in a point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """Widths of lines, sizes of type and the unit they are in. ``grid`` is the step of distances."""

    unit: Unit
    grid: float
    hair: float
    axis: float
    data: float
    limit: float
    ring: float
    label: float
    text: float
    finding: float
    headline: float

    def line(
        self, role: Role = Role.INK, *, width: float | None = None, dash: bool = False, dots: bool = False
    ) -> Stroke:
        """A stroke of the axis width unless another is given; dashed or dotted on the pen's grid."""
        drawn = self.axis if width is None else width
        if dots:
            return Stroke(role=role, width=drawn, dash=(0.01 * self.grid, 0.75 * self.grid), round_ends=True)
        return Stroke(role=role, width=drawn, dash=(self.grid, 0.75 * self.grid) if dash else ())

    @property
    def hatch(self) -> Hatch:
        """What is out of limit."""
        return Hatch(gap=1.5 * self.grid, width=self.hair)

    @property
    def doubt(self) -> Hatch:
        """Where a value may lie."""
        return Hatch(role=Role.INK_2, gap=0.9 * self.grid, width=self.hair, leaning="\\")


SCREEN = Pen(
    unit="px", grid=4.0, hair=1.0, axis=1.0, data=2.0, limit=3.0, ring=2.5,
    label=14.0, text=16.0, finding=18.0, headline=38.0,
)  # fmt: skip
PRINT = Pen(
    unit="mm", grid=1.0, hair=0.15, axis=0.25, data=0.4, limit=0.5, ring=0.5,
    label=8.0 * POINT, text=9.5 * POINT, finding=11.0 * POINT, headline=17.0 * POINT,
)  # fmt: skip


@dataclass(slots=True)
class Labels:
    """Boxes already taken in a picture; :meth:`place` takes the first candidate that is free."""

    frame: Box
    air: float
    taken: list[Box] = field(default_factory=list)

    def block(self, *boxes: Box) -> None:
        """Keep labels away from these boxes."""
        self.taken.extend(boxes)

    def free(self, box: Box) -> bool:
        """Whether a box is inside the frame and touches nothing taken."""
        return box.within(self.frame) and not any(box.touches(other, air=self.air) for other in self.taken)

    def place(self, candidates: Iterable[Text]) -> Text | None:
        """Take the first candidate with room; None when none has."""
        for text in candidates:
            if self.free(text.box):
                self.taken.append(text.box)
                return text
        return None


def around(
    x: float,
    y: float,
    gap: float,
    text: str,
    *,
    size: float,
    weight: Weight = Weight.TEXT,
    role: Role = Role.INK,
    edge: Role | None = None,
) -> list[Text]:
    """Candidates for a label beside a point: right, left, above, below, then the corners, then further out."""
    drop = size * 0.27
    found: list[Text] = []
    for reach in (gap, 2.0 * gap, 4.0 * gap, 7.0 * gap, 11.0 * gap):
        steps: tuple[tuple[float, float, Anchor], ...] = (
            (reach, drop, "start"),
            (-reach, drop, "end"),
            (0.0, -reach, "middle"),
            (0.0, reach + size * 0.74, "middle"),
            (reach, -reach, "start"),
            (reach, reach + size * 0.6, "start"),
            (-reach, -reach, "end"),
            (-reach, reach + size * 0.6, "end"),
        )
        found.extend(
            Text(x=x + dx, y=y + dy, text=text, size=size, weight=weight, role=role, anchor=anchor, edge=edge)
            for dx, dy, anchor in steps
        )
    return found  # fmt: skip


def nice_step(span: float, *, most: int, steps: tuple[float, ...] = (1.0, 2.0, 5.0)) -> float:
    """Return the smallest round step that divides ``span`` into at most ``most`` parts.

    Examples
    --------
    >>> nice_step(1.0, most=5)
    0.2
    >>> nice_step(60.0, most=4)
    20.0
    """
    power = 1e-9
    while True:
        for step in steps:
            if span <= step * power * most * (1.0 + 1e-9):
                return round(step * power, 12)
        power *= 10.0


def minute_step(duration: float, *, most: int = 5) -> float:
    """Return the step of a time axis [s]: 10 s to 10 min."""
    for step in (10.0, 20.0, 30.0, 60.0, 120.0, 300.0):
        if duration / step <= most:
            return step
    return 600.0
