"""A drawing as SVG: one string, with a title and a description for those who do not see it."""

from html import escape
from typing import assert_never

from runtrue.paper.drawing import Circle, Drawing, Group, Hatch, Path, Rect, Sector, Shape, Stroke, Text, polar
from runtrue.paper.faces import FAMILY
from runtrue.paper.tokens import Role, Theme, colour


def _n(value: float) -> str:
    """Shortest form to a thousandth; no minus before zero."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class _Writer:
    """Collects elements, patterns and clips while the list is walked; ``name`` keeps ids apart on one page."""

    def __init__(self, theme: Theme, name: str) -> None:
        self.theme = theme
        self.name = name
        self.defs: dict[str, str] = {}
        self.out: list[str] = []

    def paint(self, role: Role | None) -> str:
        return "none" if role is None else colour(self.theme, role)

    def stroke(self, stroke: Stroke | None) -> str:
        if stroke is None:
            return ""
        text = f' stroke="{self.paint(stroke.role)}" stroke-width="{_n(stroke.width)}"'
        if stroke.dash:
            text += f' stroke-dasharray="{" ".join(_n(d) for d in stroke.dash)}"'
        if stroke.round_ends:
            text += ' stroke-linecap="round"'
        return text

    def pattern(self, hatch: Hatch) -> str:
        turn = 45 if hatch.leaning == "/" else -45
        key = f"{self.name}-{hatch.role}-{_n(hatch.gap).replace('.', '_')}-{turn}"
        gap = _n(hatch.gap)
        self.defs[key] = (
            f'<pattern id="{key}" width="{gap}" height="{gap}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate({turn})"><line x1="0" y1="0" x2="0" y2="{gap}" '
            f'stroke="{self.paint(hatch.role)}" stroke-width="{_n(hatch.width * 2)}"/></pattern>'
        )
        return f"url(#{key})"

    def shape(self, element: str, item: Path | Rect | Circle | Sector) -> None:
        """Fill, then hatch, then stroke: at most one element for each."""
        if item.hatch is not None:
            if item.fill is not None:
                self.out.append(f'<{element} fill="{self.paint(item.fill)}"/>')
            self.out.append(f'<{element} fill="{self.pattern(item.hatch)}"{self.stroke(item.stroke)}/>')
        else:
            self.out.append(f'<{element} fill="{self.paint(item.fill)}"{self.stroke(item.stroke)}/>')

    def text(self, item: Text) -> None:
        anchor = "" if item.anchor == "start" else f' text-anchor="{item.anchor}"'
        edge = ""
        if item.edge is not None:
            edge = (
                f' stroke="{self.paint(item.edge)}" stroke-width="{_n(item.size * 0.28)}" stroke-linejoin="round"'
                ' paint-order="stroke"'
            )
        figures = ' style="font-variant-numeric:tabular-nums"' if item.tabular else ""
        if self.theme is Theme.PAGE:  # a page's policy allows no styles within it
            figures = ' class="tabular"' if item.tabular else ""
        self.out.append(
            f'<text x="{_n(item.x)}" y="{_n(item.y)}" font-size="{_n(item.size)}" font-weight="{int(item.weight)}" '
            f'fill="{self.paint(item.role)}"{anchor}{edge}{figures}>{escape(item.text)}</text>'
        )

    def group(self, item: Group) -> None:
        attributes = ""
        if item.dx or item.dy:
            attributes += f' transform="translate({_n(item.dx)} {_n(item.dy)})"'
        if item.clip is not None:
            key = f"{self.name}-clip{len(self.defs)}"
            self.defs[key] = f'<clipPath id="{key}"><{_outline(item.clip)}/></clipPath>'
            attributes += f' clip-path="url(#{key})"'
        self.out.append(f"<g{attributes}>")
        for inner in item.items:
            self.item(inner)
        self.out.append("</g>")

    def item(self, item: Shape) -> None:
        match item:
            case Text():
                self.text(item)
            case Group():
                self.group(item)
            case Path() | Rect() | Circle() | Sector():
                self.shape(_outline(item), item)
            case _:
                assert_never(item)


def _outline(item: Path | Rect | Circle | Sector) -> str:
    match item:
        case Path():
            text = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in item.points)
            return f'path d="{text}{"Z" if item.closed else ""}"'
        case Rect():
            corner = f' rx="{_n(item.corner)}"' if item.corner else ""
            return f'rect x="{_n(item.x)}" y="{_n(item.y)}" width="{_n(item.width)}" height="{_n(item.height)}"{corner}'
        case Circle():
            return f'circle cx="{_n(item.cx)}" cy="{_n(item.cy)}" r="{_n(item.radius)}"'
        case Sector():
            return f'path d="{_ring_piece(item)}"'
        case _:
            assert_never(item)


def _arc(item: Sector, radius: float, start: float, end: float) -> str:
    """Arc commands from the current point, halved so that a full turn is drawn too."""
    middle = (start + end) / 2.0
    flag = 0 if end > start else 1
    text = ""
    for angle in (middle, end):
        x, y = polar(item.cx, item.cy, radius, angle)
        text += f"A{_n(radius)} {_n(radius)} 0 0 {flag} {_n(x)} {_n(y)}"
    return text


def _ring_piece(item: Sector) -> str:
    end = item.start + item.sweep
    x, y = polar(item.cx, item.cy, item.outer, item.start)
    text = f"M{_n(x)} {_n(y)}" + _arc(item, item.outer, item.start, end)
    if item.inner == item.outer:
        return text
    if item.inner == 0.0:
        return f"{text}L{_n(item.cx)} {_n(item.cy)}Z"
    x, y = polar(item.cx, item.cy, item.inner, end)
    return f"{text}L{_n(x)} {_n(y)}" + _arc(item, item.inner, end, item.start) + "Z"


def to_svg(drawing: Drawing, theme: Theme = Theme.LIGHT, *, name: str = "picture") -> str:
    """Return the drawing as an SVG document. ``name`` prefixes every id, so that several can stand on one page."""
    writer = _Writer(theme, name)
    for item in drawing.items:
        writer.item(item)
    unit = drawing.unit
    size = f'width="{_n(drawing.width)}{unit}" height="{_n(drawing.height)}{unit}"'
    view = f'viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}"'
    defs = f"<defs>{''.join(writer.defs.values())}</defs>" if writer.defs else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {view} role="img" '
        f'aria-labelledby="{name}-title {name}-desc" font-family="{escape(FAMILY)}">'
        f'<title id="{name}-title">{escape(drawing.title)}</title>'
        f'<desc id="{name}-desc">{escape(drawing.description)}</desc>'
        f"{defs}{''.join(writer.out)}</svg>\n"
    )
