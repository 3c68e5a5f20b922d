"""Make each picture in light and dark from the invented recordings of the tests, to be looked at; none is kept in git.

Run ``python -m tools.pictures`` from the root of the repository. PNG, because a reader's machine may lack the typeface
that an SVG names.
"""

import io
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2

from runtrue.paper.copies import Entry, Shared, copies_picture
from runtrue.paper.disc import disc_picture
from runtrue.paper.dossier import DossierInput, dossier_pages
from runtrue.paper.drawing import Drawing
from runtrue.paper.layout import SCREEN
from runtrue.paper.limit_bar import findings_picture
from runtrue.paper.pdf import write_stream
from runtrue.paper.strip import strip_picture
from runtrue.paper.tokens import Role, Theme, colour
from tests import paper_samples as samples

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
STORY = (
    ("passes", 12, "A-M1-S1"), ("off_centre", 120, "A-M1-S1"), ("ticks", 180, "A-M1-S1"),
    ("cannot_judge", 181, "A-M1-S1"), ("jumps_and_zones", 400, "A-M1-S2"), ("unclear", 455, "A-M1-S2"),
)  # fmt: skip


def entries() -> tuple[Entry, ...]:
    """The copies of the invented run."""
    made: list[Entry] = []
    for place, (name, closure, stamper) in enumerate(STORY, 1):
        listening, traces = samples.SAMPLES[name]()
        made.append(
            Entry(copy=f"copy {place}", side="A", closure=closure, stamper=stamper, listening=listening, traces=traces)
        )
    return tuple(made)


def save(drawing: Drawing, name: str, theme: Theme, *, pixels_per_point: float) -> None:
    """Draw to PDF, render that, write a PNG; a picture of the page gets air around it."""
    if drawing.unit == "px":
        air = 4.0 * SCREEN.grid
        drawing = replace(
            drawing, items=(drawing.placed(air, air),), width=drawing.width + 2 * air, height=drawing.height + 2 * air
        )
    stream = io.BytesIO()
    write_stream(stream, (drawing,), title=drawing.title, author="", theme=theme)
    paper = colour(theme, Role.SHEET)
    fill = tuple(int(paper[k : k + 2], 16) for k in (1, 3, 5))
    opened: Any = pypdfium2.PdfDocument
    page = opened(stream.getvalue())[0]
    image = page.render(scale=pixels_per_point, fill_color=(*fill, 255)).to_pil().convert("RGB")
    image.save(PICTURES / f"{name}.png", optimize=True)
    print(f"{name}.png {image.size[0]} x {image.size[1]}", file=sys.stderr)


def main() -> int:
    """Write every picture."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    shared = (Shared(side="A", programme_s=31.2, copies=("copy 1", "copy 2", "copy 3", "copy 4", "copy 5")),)
    dossier = DossierInput(
        plant="Havelmoor Pressworks", title="HLM 0217, “Slow Lighthouse”", sheet_name="Dossier 0217",
        date="25 November 2026", version="0.1.0", entries=entries(), shared=shared,
        advice="Punch stamper A-M1-S1 again; hold copies from closure 120 on.",
    )  # fmt: skip
    pages = dossier_pages(dossier)
    save(pages[0], "dossier-first", Theme.PRINT, pixels_per_point=1.5)
    save(pages[3], "dossier-recording", Theme.PRINT, pixels_per_point=1.5)
    listening, traces = samples.fails_ticks()
    for theme in (Theme.LIGHT, Theme.DARK):
        save(
            disc_picture(listening, traces, pen=SCREEN, wide=330, side="A"), f"disc-{theme}", theme, pixels_per_point=2
        )
        save(strip_picture(listening, traces, pen=SCREEN, wide=900), f"strip-{theme}", theme, pixels_per_point=2)
        rows = samples.cannot_judge()[0].findings
        save(findings_picture(rows, pen=SCREEN, wide=460), f"limits-{theme}", theme, pixels_per_point=2)
        save(
            copies_picture(entries(), pen=SCREEN, wide=900, shared=shared), f"copies-{theme}", theme, pixels_per_point=2
        )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
