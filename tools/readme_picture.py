"""Make the picture that the README shows: one page of the dossier that `runtrue demo` wrote.

Run ``python -m tools.readme_picture [DOSSIER.pdf] [PAGE]`` from the root of the repository, after ``make demo``.
"""

import sys
from pathlib import Path
from typing import Any

import pypdfium2

ROOT = Path(__file__).resolve().parents[1]
PICTURE = ROOT / "docs" / "pictures" / "dossier.png"
PIXELS_PER_POINT = 1.5
GREYS = 32
"""Tones of the picture: the page has one ink and three greys, the rest is the edges of letters."""
MOST = 300_000
"""The picture must not be larger [bytes]."""


def write_picture(dossier: Path, picture: Path, *, number: int = 1) -> None:
    """Render one page, the first being 1, to a grey PNG."""
    opened: Any = pypdfium2.PdfDocument
    pages = opened(dossier)
    if not 1 <= number <= len(pages):
        raise SystemExit(f"page must be 1 to {len(pages)}, got {number}")
    image = pages[number - 1].render(scale=PIXELS_PER_POINT, grayscale=True).to_pil().convert("L").quantize(GREYS)
    image.save(picture, optimize=True)
    size = picture.stat().st_size
    if size > MOST:
        raise SystemExit(f"{picture.name}: {size} bytes, at most {MOST} are allowed: lower PIXELS_PER_POINT")
    print(f"{picture.name} {image.size[0]} x {image.size[1]}, {size} bytes", file=sys.stderr)


def main(arguments: list[str]) -> int:
    """Write the picture of the README."""
    dossier = Path(arguments[0]) if arguments else ROOT / "demo-out" / "dossier.pdf"
    if not dossier.is_file():
        raise SystemExit(f"{dossier}: there is no such file; run `make demo` first")
    write_picture(dossier, PICTURE, number=int(arguments[1]) if len(arguments) > 1 else 1)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
