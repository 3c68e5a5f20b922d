"""One display list, two outputs: both well formed, both saying the same, the PDF the same bytes each time."""

import io
import xml.etree.ElementTree as ET
from math import pi

import pypdfium2
import pytest

from runtrue.paper import pdf
from runtrue.paper.drawing import Circle, Drawing, Group, Hatch, Path, Rect, Sector, Stroke, Text, arrow, polar
from runtrue.paper.faces import Weight
from runtrue.paper.layout import PRINT
from runtrue.paper.svg import to_svg
from runtrue.paper.tokens import Role, Theme, colour

SVG = "{http://www.w3.org/2000/svg}"
INK = Stroke(role=Role.INK, width=0.4)
HATCH = Hatch(gap=2.0, width=0.2)


def sampler() -> Drawing:
    """Every kind of shape once."""
    return Drawing(
        title="Sampler <1>", description="One of each & more.", width=60.0, height=40.0, unit="mm",
        items=(
            Rect(x=1, y=1, width=10, height=6, fill=Role.WELL, hatch=HATCH, stroke=INK, corner=1.0),
            Circle(cx=20, cy=5, radius=4, fill=Role.PETROL),
            Sector(cx=35, cy=10, inner=4, outer=8, start=30, sweep=-200, hatch=HATCH, stroke=INK),
            Sector(cx=50, cy=10, inner=0, outer=8, start=0, sweep=90, fill=Role.ALARM),
            Sector(cx=50, cy=30, inner=6, outer=6, start=0, sweep=359.9, stroke=INK),
            *arrow((5, 20), (15, 25), stroke=INK, head=2.0),
            Path(points=((5, 30), (15, 30), (10, 36)), closed=True, fill=Role.BRASS, stroke=INK),
            Group(items=(Text(x=0, y=0, text="Чай 268 ± 31 μm", size=3, edge=Role.SHEET),), dx=18, dy=30),
            Group(items=(Rect(x=0, y=0, width=99, height=99, fill=Role.DISC),), clip=Circle(cx=30, cy=35, radius=2)),
            Text(x=58, y=38, text="12.50", size=3, weight=Weight.VALUE, anchor="end", tabular=True),
        ),
    )  # fmt: skip


def as_pdf(drawing: Drawing, theme: Theme = Theme.PRINT) -> bytes:
    stream = io.BytesIO()
    pdf.write_stream(stream, (drawing,), title=drawing.title, author="", theme=theme)
    return stream.getvalue()


@pytest.mark.parametrize("theme", list(Theme))
def test_svg_is_well_formed_with_a_text_alternative(theme: Theme) -> None:
    root = ET.fromstring(to_svg(sampler(), theme, name="one"))
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert desc is not None
    assert (title.text, desc.text) == ("Sampler <1>", "One of each & more.")
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "one-title one-desc"
    assert (root.get("width"), root.get("viewBox")) == ("60mm", "0 0 60 40")
    fills = {element.get("fill") for element in root.iter()}
    assert colour(theme, Role.ALARM) in fills


def test_svg_ids_carry_the_name_so_that_several_fit_on_one_page() -> None:
    def ids(name: str) -> set[str | None]:
        return {e.get("id") for e in ET.fromstring(to_svg(sampler(), name=name)).iter() if e.get("id")}

    assert not ids("a") & ids("b")
    text = to_svg(sampler(), name="a")
    assert all(f"url(#{key})" in text for key in ids("a") if key and "title" not in key and "desc" not in key)


def test_pdf_holds_the_texts_and_is_the_same_each_time() -> None:
    first = as_pdf(sampler())
    assert first == as_pdf(sampler())
    page = pypdfium2.PdfDocument(first)[0]
    assert page.get_size() == pytest.approx((60 * 72 / 25.4, 40 * 72 / 25.4), abs=0.01)
    text = page.get_textpage().get_text_bounded()
    assert "268 ± 31 μm" in text
    assert "Чай" in text
    assert "12.50" in text


def test_text_lies_where_its_box_says() -> None:
    text = Text(x=30, y=20, text="Hamburg", size=6, anchor="middle")
    drawing = Drawing(title="t", description="d", width=60, height=40, unit="mm", items=(text,))
    textpage = pypdfium2.PdfDocument(as_pdf(drawing))[0].get_textpage()
    left, bottom, right, top = textpage.get_rect(textpage.count_rects() - 1)
    millimetre = 72 / 25.4
    box = text.box
    assert box.left - 0.5 <= left / millimetre
    assert right / millimetre <= box.right + 0.5
    assert box.top - 0.5 <= 40 - top / millimetre
    assert 40 - bottom / millimetre <= box.bottom + 0.5


def test_angles_grow_against_the_clock_from_the_top() -> None:
    assert polar(0, 0, 1, 0) == pytest.approx((0, -1))
    assert polar(0, 0, 1, 90) == pytest.approx((-1, 0))


def test_a_wedge_covers_its_own_quarter_in_svg_and_pdf() -> None:
    wedge = Sector(cx=20, cy=20, inner=0, outer=16, start=0, sweep=90, fill=Role.INK)
    drawing = Drawing(title="t", description="d", width=40, height=40, unit="mm", items=(wedge,))
    image = pypdfium2.PdfDocument(as_pdf(drawing))[0].render(scale=2).to_pil().convert("L")
    wide, high = image.size

    def dark(x: float, y: float) -> bool:
        return bool(image.getpixel((int(x * wide), int(y * high))) < 128)

    assert dark(0.35, 0.35)
    assert not any(dark(x, y) for x, y in ((0.65, 0.35), (0.35, 0.65), (0.65, 0.65)))
    covered = sum(image.histogram()[:128]) / (wide * high)
    assert covered == pytest.approx(pi * 16**2 / 4 / 1600, rel=0.03)
    assert "A16 16 0 0 0" in to_svg(drawing)


def test_an_arrow_keeps_a_shaft_however_short() -> None:
    shaft, _ = arrow((0, 0), (1, 0), stroke=INK, head=5.0)
    assert isinstance(shaft, Path)
    assert shaft.points[1][0] > 0.3
    assert arrow((1, 1), (1, 1), stroke=INK, head=5.0) == ()


def test_dotted_lines_follow_the_grid() -> None:
    assert PRINT.line(dots=True).round_ends
    assert PRINT.line(dash=True).dash == (1.0, 0.75)
