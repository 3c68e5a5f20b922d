"""The command ``stamper picture``: verdicts, exits, schema, overlay, bad input."""

import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from PIL import Image

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
        (("scan.png", "--format", "7in-45"), "--um-per-px"),
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
    outcome = runtrue("stamper", "picture", *arguments)
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err
