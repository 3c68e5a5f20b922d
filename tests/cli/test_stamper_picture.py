"""The command ``stamper picture``: verdicts, exits, schema, overlay, bad input."""

import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from PIL import ExifTags, Image

from runtrue.contract.schema import schema_of
from runtrue.forward.scan import Scan, render
from tests.cli.conftest import Outcome

Run = Callable[..., Outcome]
PICTURE = ("stamper", "picture", "scan.png", "--um-per-px", "84.667", "--format", "7in-45")

pytestmark = [pytest.mark.usefixtures("folder"), pytest.mark.slow]


def whole(outcome: Outcome, code: int) -> dict[str, object]:
    assert outcome.code == code, outcome.err
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/picture-1"))
    reasons = {item["key"] for item in result["not_judged"]}
    assert {key for key, value in result.items() if value is None} <= reasons
    return result


def test_pass_with_overlay(runtrue: Run) -> None:
    result = whole(runtrue(*PICTURE, "--limit-offset-um", "200", "--overlay", "seen.png", "--json"), 0)
    assert result["verdict"] == "pass"
    assert result["offset_um"] == pytest.approx(50.0, abs=5.0)
    assert result["u95_um"] > 30.0 > result["method_u95_um"]
    with Image.open("seen.png") as seen:
        assert seen.size[0] > 500


def test_sixteen_bit_and_jpeg(runtrue: Run) -> None:
    with Image.open("scan.png") as image:
        eight = np.asarray(image)
        image.save("scan.jpg", quality=92)
    Image.fromarray(eight.astype(np.uint16) * 257).save("scan.tif")
    for name in ("scan.tif", "scan.jpg"):
        result = whole(runtrue("stamper", "picture", name, *PICTURE[3:], "--json"), 0)
        assert result["offset_um"] == pytest.approx(50.0, abs=8.0)


def test_fail_prints_the_page(runtrue: Run) -> None:
    outcome = runtrue(*PICTURE, "--limit-swing-um", "20", "--field-u95-um", "3")
    assert outcome.code == 3
    assert "a punched hole cannot be moved" in " ".join(outcome.out.split())
    assert "Nickel dust" in outcome.out


def test_no_circle_cannot_be_judged(runtrue: Run) -> None:
    picture = render(Scan(scale=84.667e-6, size=600, hole=0.1e-3), np.random.default_rng(1))
    Image.fromarray(picture).save("scan.png")
    result = whole(runtrue(*PICTURE, "--limit-offset-um", "200", "--json"), 4)
    assert result["verdict"] == "cannot_judge"
    assert "Cannot judge: no hole" in " ".join(runtrue(*PICTURE).out.split())


LIMITS = """
[file]
name = "House"
owner = "M. Brandt"
date = 2026-01-01
[[limit]]
quantity = "hole_diameter_mm"
lower = 7.24
upper = 7.33
source = "IEC 60098:1987"
[[limit]]
quantity = "label_shift_um"
upper = 500
source = "house"
[[limit]]
quantity = "rim_roundness_um"
upper = 400
source = "house"
"""
OTHER = '[[limit]]\nquantity = "speed_deviation_percent"\nupper = 1\nsource = "house"\n'
FIELD = """
name = "Scanner 1"
owner = "M. Brandt"
date = 2026-11-20
um_per_px = 84.667
scale_u95_percent = 0.01
stretch_percent = 0.0
skew_percent = 0.0
stretch_u95_percent = 0.005
u95_um = 6.0
rim_mm = 100.0
scans = 6
"""


def test_hole_label_and_rim_of_a_finished_record(runtrue: Run) -> None:
    """At 200 dpi: the hole to some 10 um, where the scale was checked."""
    scan = Scan(
        scale=127e-6, size=1440, groove=97.4e-3, label=92e-3, hole_at=(50e-6, 0.0), label_at=(0.0, 350e-6),
        rim=175e-3, rim_at=(0.0, -100e-6), rim_oval=80e-6, line_width=160e-6, print_marks=40, dust=100,
    )  # fmt: skip
    Image.fromarray(render(scan, np.random.default_rng(3))).save("scan.png")
    Path("field.toml").write_text(FIELD.replace("84.667", "127.0"), encoding="utf-8")
    Path("limits.toml").write_text(LIMITS, encoding="utf-8")
    command = (
        "stamper",
        "picture",
        "scan.png",
        "--format",
        "7in-45",
        "--field",
        "field.toml",
        "--limits",
        "limits.toml",
    )
    result = whole(runtrue(*command, "--json"), 0)
    assert result["hole"]["diameter_mm"] == pytest.approx(7.26, abs=0.01)
    assert result["label_shift"]["offset_um"] == pytest.approx(float(np.hypot(50, 350)), abs=10.0)
    assert result["rim_shift"]["offset_um"] == pytest.approx(float(np.hypot(50, 100)), abs=10.0)
    assert result["rim"]["roundness_um"] == pytest.approx(160.0, abs=15.0)
    assert {row["quantity"]: row["verdict"] for row in result["findings"]} == {
        "hole_diameter_mm": "pass", "label_shift_um": "pass", "rim_roundness_um": "pass"
    }  # fmt: skip
    assert "field.toml" not in result["settings"]["field_source"]
    stated = whole(runtrue(*command[:5], "--um-per-px", "127", "--limits", "limits.toml", "--json"), 4)
    assert stated["findings"][0]["u95"] > 0.02  # a scale that is only stated does not tell a hole to 0.09 mm
    assert "rim, out of round" in runtrue(*command).out


def test_a_measured_ring_makes_a_field_file(runtrue: Run) -> None:
    ring = ("stamper", "field", "ring1.png", "ring2.png", "--um-per-px", "85", "--rim-mm", "50")
    outcome = runtrue(*ring, "--out", "field.toml", "--name", 'The "old" one', "--json")
    assert outcome.code == 0, outcome.err
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/field-1"))
    assert result["um_per_px"] == pytest.approx(84.667, rel=2e-4)
    assert result["u95_um"] < 25.0
    result = whole(
        runtrue("stamper", "picture", "scan.png", "--format", "7in-45", "--field", "field.toml", "--json"), 0
    )
    assert result["offset_um"] == pytest.approx(50.0, abs=6.0)
    assert result["scale"]["stretch_percent"] is not None
    assert result["settings"]["field_source"].startswith('The "old" one')
    assert "right within" in runtrue(*ring).out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("ring1.png",), "one scan of the ring tells no scatter"),
        (("ring1.png", "ring1.png"), "is given twice"),
        (("ring1.png", "none.png"), "there is no such file"),
        (("ring1.png", "ring2.png", "--hole-mm", "45"), "hole_mm must be below 0.8 of rim_mm"),
        (("ring1.png", "scan.png"), "image scan.png: the ring's rim is not seen"),
        (("ring1.png", "ring2.png", "--out", "ring1.png"), "must end in .toml"),
    ],
)
def test_a_ring_that_cannot_be_measured(runtrue: Run, arguments: tuple[str, ...], words: str) -> None:
    outcome = runtrue("stamper", "field", *arguments, "--um-per-px", "84.667", "--rim-mm", "50")
    assert (outcome.code, outcome.out, len(outcome.lines)) == (2, "", 1)
    assert words in outcome.err


def test_two_records_on_one_scan_are_refused(runtrue: Run) -> None:
    with Image.open("scan.png") as image:
        one = np.asarray(image)
    Image.fromarray(np.concatenate([one, one], axis=1)).save("scan.png")
    outcome = runtrue(*PICTURE, "--limit-offset-um", "200")
    assert outcome.code == 4
    assert "2 holes of that size are seen: scan one record at a time" in " ".join(outcome.out.split())


def _head_of_a_bomb() -> bytes:
    """A PNG that says it is 60000 by 60000 pixels large."""
    head = b"IHDR" + struct.pack(">IIBBBBB", 60_000, 60_000, 8, 0, 0, 0, 0)
    data = b"IDAT" + zlib.compress(bytes(64))
    parts = [struct.pack(">I", len(part) - 4) + part + struct.pack(">I", zlib.crc32(part)) for part in (head, data)]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("none.png", *PICTURE[3:]), "there is no such file"),
        (("text.png", *PICTURE[3:]), "is no PNG, TIFF or JPEG"),
        (("cut.png", *PICTURE[3:]), "is damaged"),
        (("scan.png", "--format", "7in-45"), "the scale is missing"),
        (("photo.jpg", *PICTURE[3:]), "is a photograph (its lens is written in it); give camera_mm"),
        (("scan.png", *PICTURE[3:], "--turned", "scan.png"), "is the same picture"),
        (("scan.png", *PICTURE[3:], "--field", "field.toml"), "um_per_px: the field file says it already"),
        (("scan.png", "--format", "7in-45", "--field", "text.png"), "is no TOML"),
        (("scan.png", *PICTURE[3:], "--hole", "square"), "known are small, large"),
        (("scan.png", *PICTURE[3:], "--limits", "other.toml"), "bounds none of off_centre_offset_um, hole_diameter_mm"),
        (("scan.png", "--um-per-px", "84.667", "--format", "12in-78"), "off centre on purpose"),
        (("bomb.png", *PICTURE[3:]), "at most 500 million are allowed"),
        (("scan.png", *PICTURE[3:], "--overlay", "scan.png"), "is there already"),
        (("scan.png", *PICTURE[3:], "--overlay", "seen.jpg"), "must end in .png"),
    ],
)
def test_bad_input_is_one_line(runtrue: Run, arguments: tuple[str, ...], words: str) -> None:
    Path("text.png").write_text("no picture", encoding="utf-8")
    data = Path("scan.png").read_bytes()
    Path("cut.png").write_bytes(data[: len(data) // 2])
    Path("bomb.png").write_bytes(_head_of_a_bomb())
    Path("field.toml").write_text(FIELD, encoding="utf-8")
    Path("other.toml").write_text(LIMITS.partition("[[limit]]")[0] + OTHER, encoding="utf-8")
    with Image.open("scan.png") as image:
        exif = Image.Exif()
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLength] = 50.0
        image.save("photo.jpg", exif=exif)
    outcome = runtrue("stamper", "picture", *arguments)
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err
