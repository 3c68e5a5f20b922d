"""The vendored faces are the ones that were fetched, their licences lie beside them, and no text prints boxes."""

import hashlib
import tomllib

import pytest

from runtrue.paper import faces
from runtrue.paper.faces import FONTS, Weight

VENDORED = tomllib.loads((FONTS / "vendor.toml").read_text(encoding="utf-8"))["file"]


@pytest.mark.parametrize("entry", VENDORED, ids=lambda entry: entry["file"])
def test_font_is_the_one_fetched_and_has_its_licence(entry: dict[str, str]) -> None:
    assert hashlib.sha256((FONTS / entry["file"]).read_bytes()).hexdigest() == entry["sha256"]
    assert (FONTS / entry["licence_file"]).stat().st_size > 1000
    assert entry["version"]


def test_every_font_in_the_folder_is_written_down() -> None:
    assert {path.name for path in FONTS.glob("*.ttf")} == {entry["file"] for entry in VENDORED}


def test_what_the_program_writes_is_in_the_first_face() -> None:
    assert {run.font for run in faces.runs("0123456789 .,:;±−×°≤≥≈·…“”’")} == {"RuntrueText"}
    assert {run.font for run in faces.runs("268 ± 31 μm", Weight.VALUE)} == {"RuntrueValue"}


@pytest.mark.parametrize("weight", list(Weight))
def test_greek_and_cyrillic_fall_back_and_keep_the_text(weight: Weight) -> None:
    text = "Чайковский, Ωδή"
    runs = faces.runs(text, weight)
    assert "".join(run.text for run in runs) == text
    assert any(run.font.startswith("RuntrueFallback") for run in runs)
    assert faces.missing_message(text) == ""


def test_a_missing_glyph_is_said_and_not_printed_as_a_box() -> None:
    assert faces.missing("夜 Night") == "夜"
    assert "glyph missing in font" in faces.missing_message("夜の灯台")
    assert "".join(run.text for run in faces.runs("夜")) == "?"


def test_lines_keep_within_their_room_and_lose_no_word() -> None:
    text = "Copies 181 to 352 of stamper A-M2-S3 share one tick at 1:23.4. Hold boxes 8 to 15. " + "x" * 90
    lines = faces.wrapped(text, size=4.0, room=60.0)
    assert all(faces.width(line, size=4.0) <= 60.0 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_shortened_text_fits_and_says_so() -> None:
    cut = faces.shortened("a very long name of a plant", size=4.0, room=20.0)
    assert cut.endswith("…")
    assert faces.width(cut, size=4.0) <= 20.0
