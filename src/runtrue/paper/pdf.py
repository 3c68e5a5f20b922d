"""A drawing on a PDF page: the same list as the SVG, in the embedded faces.

ReportLab cannot reach a face's tabular figures, so on paper figures keep their own widths.
"""

from collections.abc import Callable
from math import cos, radians, sin
from pathlib import Path as FilePath
from typing import Any, assert_never

from runtrue.paper import faces
from runtrue.paper.drawing import Circle, Drawing, Group, Hatch, Path, Rect, Sector, Shape, Stroke, Text, polar
from runtrue.paper.tokens import Role, Theme, colour

POINTS = {"mm": 72.0 / 25.4, "px": 0.75}
"""PDF points in one unit of a drawing; a CSS pixel is 1/96 inch."""


class _Painter:
    """Walks the list on a canvas whose y already points down."""

    def __init__(self, canvas: Any, theme: Theme) -> None:
        self.canvas = canvas
        self.theme = theme

    def fill_with(self, role: Role) -> None:
        self.canvas.setFillColor(colour(self.theme, role))

    def stroke_with(self, stroke: Stroke) -> None:
        self.canvas.setStrokeColor(colour(self.theme, stroke.role))
        self.canvas.setLineWidth(stroke.width)
        self.canvas.setDash(list(stroke.dash))
        self.canvas.setLineCap(1 if stroke.round_ends else 0)
        self.canvas.setLineJoin(1)

    def outline(self, item: Path | Rect | Circle | Sector) -> Any:
        path = self.canvas.beginPath()
        match item:
            case Path():
                path.moveTo(*item.points[0])
                for point in item.points[1:]:
                    path.lineTo(*point)
                if item.closed:
                    path.close()
            case Rect():
                if item.corner:
                    path.roundRect(item.x, item.y, item.width, item.height, item.corner)
                else:
                    path.rect(item.x, item.y, item.width, item.height)
            case Circle():
                path.circle(item.cx, item.cy, item.radius)
            case Sector():
                _ring_piece(path, item)
            case _:
                assert_never(item)
        return path

    def shape(self, item: Path | Rect | Circle | Sector) -> None:
        if item.fill is not None:
            self.fill_with(item.fill)
            self.canvas.drawPath(self.outline(item), stroke=0, fill=1)
        if item.hatch is not None:
            self.hatch(item, item.hatch)
        if item.stroke is not None:
            self.stroke_with(item.stroke)
            self.canvas.drawPath(self.outline(item), stroke=1, fill=0)

    def hatch(self, item: Path | Rect | Circle | Sector, hatch: Hatch) -> None:
        """Clip to the shape and rule slanted lines on a lattice of the whole page, so that pieces join."""
        left, top, right, bottom = _extent(item)
        self.canvas.saveState()
        self.canvas.clipPath(self.outline(item), stroke=0, fill=0)
        self.stroke_with(Stroke(role=hatch.role, width=hatch.width))
        step = hatch.gap * 2.0**0.5
        sign = 1.0 if hatch.leaning == "/" else -1.0
        path = self.canvas.beginPath()
        low, high = sorted((top + sign * left, top + sign * right))
        at = (low // step) * step
        while at <= high + (bottom - top):
            path.moveTo(left, at - sign * left)
            path.lineTo(right, at - sign * right)
            at += step
        self.canvas.drawPath(path, stroke=1, fill=0)
        self.canvas.restoreState()

    def text(self, item: Text) -> None:
        if item.edge is not None:
            self._show(item, item.edge, edge=True)
        self._show(item, item.role, edge=False)

    def _show(self, item: Text, role: Role, *, edge: bool) -> None:
        canvas = self.canvas
        runs = faces.runs(item.text, item.weight)
        wide = faces.width(item.text, size=item.size, weight=item.weight)
        left = item.x - {"start": 0.0, "middle": wide / 2.0, "end": wide}[item.anchor]
        canvas.saveState()
        canvas.translate(left, item.y)
        canvas.scale(1.0, -1.0)
        shown = canvas.beginText(0, 0)
        if edge:
            canvas.setStrokeColor(colour(self.theme, role))
            canvas.setLineWidth(item.size * 0.28)
            canvas.setLineJoin(1)
            canvas.setDash([])
            shown.setTextRenderMode(1)
        self.fill_with(role)
        x = 0.0
        for run in runs:
            shown.setFont(run.font, item.size)
            shown.setTextOrigin(x, 0)
            shown.textOut(run.text)
            x += faces.registered(run.font).stringWidth(run.text, item.size)
        if edge:
            shown.setTextRenderMode(0)
        canvas.drawText(shown)
        canvas.restoreState()

    def group(self, item: Group) -> None:
        self.canvas.saveState()
        self.canvas.translate(item.dx, item.dy)
        if item.clip is not None:
            self.canvas.clipPath(self.outline(item.clip), stroke=0, fill=0)
        for inner in item.items:
            self.item(inner)
        self.canvas.restoreState()

    def item(self, item: Shape) -> None:
        match item:
            case Text():
                self.text(item)
            case Group():
                self.group(item)
            case Path() | Rect() | Circle() | Sector():
                self.shape(item)
            case _:
                assert_never(item)


def _extent(item: Path | Rect | Circle | Sector) -> tuple[float, float, float, float]:
    match item:
        case Path():
            xs, ys = [p[0] for p in item.points], [p[1] for p in item.points]
            return min(xs), min(ys), max(xs), max(ys)
        case Rect():
            return item.x, item.y, item.x + item.width, item.y + item.height
        case Circle():
            return item.cx - item.radius, item.cy - item.radius, item.cx + item.radius, item.cy + item.radius
        case Sector():
            return item.cx - item.outer, item.cy - item.outer, item.cx + item.outer, item.cy + item.outer
        case _:
            assert_never(item)


def _arc(path: Any, item: Sector, radius: float, start: float, end: float) -> None:
    """Cubic pieces of at most 30 degrees from the current point: off the true arc by less than 1e-5 of the radius."""
    pieces = max(1, int(abs(end - start) / 30.0 + 0.999))
    step = (end - start) / pieces
    reach = 4.0 / 3.0 * radius * (1.0 - cos(radians(step) / 2.0)) / sin(radians(step) / 2.0) if step else 0.0
    for piece in range(pieces):
        here, there = start + piece * step, start + (piece + 1) * step
        ax, ay = polar(item.cx, item.cy, radius, here)
        bx, by = polar(item.cx, item.cy, radius, there)
        tx, ty = polar(0.0, 0.0, reach, here + 90.0)
        ux, uy = polar(0.0, 0.0, reach, there + 90.0)
        path.curveTo(ax + tx, ay + ty, bx - ux, by - uy, bx, by)


def _ring_piece(path: Any, item: Sector) -> None:
    end = item.start + item.sweep
    path.moveTo(*polar(item.cx, item.cy, item.outer, item.start))
    _arc(path, item, item.outer, item.start, end)
    if item.inner == item.outer:
        return
    if item.inner == 0.0:
        path.lineTo(item.cx, item.cy)
    else:
        path.lineTo(*polar(item.cx, item.cy, item.inner, end))
        _arc(path, item, item.inner, end, item.start)
    path.close()


def onto_pdf(canvas: Any, drawing: Drawing, x: float, y: float, *, theme: Theme = Theme.PRINT) -> None:
    """Draw on a ReportLab canvas with the top left corner ``x`` from the left and ``y`` from the top, in points."""
    _, page_height = canvas._pagesize
    scale = POINTS[drawing.unit]
    canvas.saveState()
    canvas.translate(x, page_height - y)
    canvas.scale(scale, -scale)
    painter = _Painter(canvas, theme)
    for item in drawing.items:
        painter.item(item)
    canvas.restoreState()


def write_pages(
    path: FilePath, pages: tuple[Drawing, ...], *, title: str, author: str, theme: Theme = Theme.PRINT
) -> None:
    """Write one PDF page for each drawing. The same drawings give the same bytes."""
    write_stream(str(path), pages, title=title, author=author, theme=theme)


def write_stream(
    target: Any, pages: tuple[Drawing, ...], *, title: str, author: str, theme: Theme = Theme.PRINT
) -> None:
    """Write the pages to a path or an open binary stream."""
    from reportlab.pdfgen.canvas import Canvas

    opened: Callable[..., Any] = Canvas
    first = faces.registered("RuntrueText").fontName  # else every page would name a face that is not embedded
    canvas = opened(target, invariant=1, pageCompression=1, initialFontName=first)
    canvas.setTitle(title)
    canvas.setAuthor(author)
    canvas.setCreator("runtrue")
    for page in pages:
        scale = POINTS[page.unit]
        canvas.setPageSize((page.width * scale, page.height * scale))
        onto_pdf(canvas, page, 0.0, 0.0, theme=theme)
        canvas.showPage()
    canvas.save()
