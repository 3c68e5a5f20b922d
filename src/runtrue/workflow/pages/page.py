"""What every page has: its first sentence, pictures for light and dark, and an address on the disc."""

from dataclasses import dataclass

from runtrue.contract.listening import VerdictWord
from runtrue.paper.drawing import Drawing
from runtrue.paper.layout import SCREEN
from runtrue.paper.marks import verdict_picture
from runtrue.paper.svg import to_svg
from runtrue.paper.tokens import Theme
from runtrue.paper.words import NO_BREAK, VERDICT_WORDS, fixed


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing: its name, the same in words, and the SVG whose colours follow the page."""

    name: str
    words: str
    svg: str
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What was found, what to do, and what belongs to it in small; ``mark`` is the verdict's."""

    title: str
    said: str
    act: str = ""
    detail: str = ""
    verdict: VerdictWord | None = None
    verdict_words: str = ""
    mark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """The address of a fault: "A 2:05.3" and "turn 94, 120° ± 2°"; ``cx`` and ``cy`` place its dot, -1 to 1."""

    where: str
    detail: str
    programme_s: float
    cx: float = 0.0
    cy: float = 0.0
    failing: bool = False


def picture(drawing: Drawing, name: str) -> Picture:
    """A drawing for a page; ``name`` keeps the ids of several on one page apart."""
    return Picture(
        name=drawing.title, words=drawing.description.replace(NO_BREAK, " "),
        svg=to_svg(drawing, Theme.PAGE, name=name), width=drawing.width, height=drawing.height,
    )  # fmt: skip


def degrees_words(angle: float, u95: float | None) -> str:
    """An angle as it is looked for on a disc.

    Examples
    --------
    >>> degrees_words(351.02, 3.4), degrees_words(12.0, None)
    ('351° ± 3°', '12°')
    """
    return f"{fixed(angle, 0)}°" if u95 is None else f"{fixed(angle, 0)}° ± {fixed(max(u95, 1.0), 0)}°"


def head(title: str, said: str, *, act: str = "", detail: str = "", verdict: VerdictWord | None = None) -> Head:
    """The head of a page with its verdict's mark."""
    if verdict is None:
        return Head(title=title, said=said, act=act, detail=detail)
    return Head(
        title=title, said=said, act=act, detail=detail, verdict=verdict, verdict_words=VERDICT_WORDS[verdict],
        mark=mark(verdict),
    )  # fmt: skip


def mark(verdict: VerdictWord, size: float = 64.0) -> str:
    """A verdict's mark as SVG; the word stands beside it."""
    return to_svg(verdict_picture(verdict, size=size, pen=SCREEN), Theme.PAGE, name=f"mark-{verdict}")
