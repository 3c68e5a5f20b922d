"""Scans of known centres, spoiled by noise, dust and glare, and what the station makes of them."""

from dataclasses import replace

import numpy as np
import pytest

from runtrue.forward.scan import Scan, render
from runtrue.stamper.edges import roundness
from runtrue.stamper.field import Distortion, Field
from runtrue.stamper.picture import PictureCentre, measure
from runtrue.stamper.seek import Refused, Sought

DPI_1200 = 25.4e-3 / 1200
SMALL = Scan(scale=DPI_1200, size=1100, groove=21e-3, label=15e-3, dust=30)
"""A ring of 21 mm about the hole: the same pixels, fewer of them."""


def found(
    scan: Scan, seed: int = 1, *, turned: Scan | None = None, field: Field | None = None
) -> PictureCentre | Refused:
    picture = render(scan, np.random.default_rng(seed))
    sought = Sought(hole=7.26e-3, groove=scan.groove, label=scan.label, rim=scan.rim or None)
    again = None if turned is None else render(turned, np.random.default_rng(seed + 50))
    return measure(picture, sought, scale=scan.scale, turned=again, field=field)


def errors(scan: Scan, centre: PictureCentre) -> tuple[float, float, float]:
    """Error of hole, groove and offset [m]."""
    middle = -(scan.size - 1) / 2.0
    hole = (np.array([centre.hole.circle.x, centre.hole.circle.y]) - middle) * scan.scale - scan.hole_at
    groove = (np.array([centre.groove.circle.x, centre.groove.circle.y]) - middle) * scan.scale - scan.groove_at
    offset = np.array([centre.method.x, centre.method.y]) - (np.array(scan.hole_at) - scan.groove_at)
    return float(np.hypot(*hole)), float(np.hypot(*groove)), float(np.hypot(*offset))


def test_a_record_at_1200_dpi_with_dust_and_glare() -> None:
    scan = Scan(
        scale=DPI_1200, size=5400, hole_at=(120e-6, -75e-6), groove_at=(-30e-6, 40e-6), dust=1000, glare=0.05,
    )  # fmt: skip
    centre = found(scan)
    assert isinstance(centre, PictureCentre)
    hole, groove, offset = errors(scan, centre)
    assert max(hole, groove) < 1e-6
    assert offset < 2e-6
    assert centre.field.u95 >= 30e-6
    assert any("common practice" in caution for caution in centre.cautions)


def test_a_stamper_dark_line_and_dark_hole() -> None:
    scan = replace(SMALL, hole_at=(60e-6, 20e-6), label_grey=180.0, land_grey=180.0, hole_grey=10.0, line_grey=-80.0)
    centre = found(scan)
    assert isinstance(centre, PictureCentre)
    assert max(errors(scan, centre)) < 2e-6


@pytest.mark.parametrize(
    ("scan", "words"),
    [
        (replace(SMALL, hole=0.5e-3), "no hole of the expected size"),
        (replace(SMALL, line_grey=0.0), "no closed groove is seen"),
        (replace(SMALL, hole=1e-9, label=1e-9, line_grey=0.0, noise=0.0, dust=0), "one brightness"),
        (replace(SMALL, scale=1000e-6, size=300), "would be"),
        (replace(SMALL, size=200), "smaller than the hole"),
    ],
)
def test_what_shows_no_centre_is_refused_with_the_reason(scan: Scan, words: str) -> None:
    centre = found(scan)
    assert isinstance(centre, Refused)
    assert words in centre.reason


def test_two_holes_are_refused() -> None:
    picture = render(replace(SMALL, noise=1.0, dust=0), np.random.default_rng(1))
    both = np.concatenate([picture, picture], axis=1)
    centre = measure(both, Sought(hole=7.26e-3, groove=21e-3), scale=DPI_1200)
    assert isinstance(centre, Refused)
    assert "2 holes" in centre.reason


def test_a_measured_hole_gives_the_scale() -> None:
    picture = render(SMALL, np.random.default_rng(1))
    centre = measure(
        picture, Sought(hole=7.26e-3, groove=21e-3, known_hole=7.26e-3), scale=1.01 * DPI_1200,
        field=Field(u95=5e-6, checked=True),
    )  # fmt: skip
    assert isinstance(centre, PictureCentre)
    assert centre.scale == pytest.approx(DPI_1200, rel=1e-4)
    assert centre.field.u95 < 10e-6


@pytest.mark.parametrize("start", [10.0, 100.0])
def test_part_of_a_groove_on_a_scanner_with_unequal_scales(start: float) -> None:
    scan = replace(SMALL, stretch=0.003, groove_from=start, groove_to=start + 90.0, hole_at=(50e-6, 0.0))
    seen = found(scan)
    assert isinstance(seen, PictureCentre)
    assert errors(scan, seen)[2] > 3.0 * seen.method.u95
    assert errors(scan, seen)[2] < seen.field.u95
    known = Field(u95=5e-6, distortion=Distortion(stretch=0.003, skew=0.0, u95=1e-4, source="-"), checked=True)
    checked = found(scan, field=known)
    assert isinstance(checked, PictureCentre)
    assert errors(scan, checked)[2] < checked.field.u95 < seen.field.u95


def test_arcs_of_a_quarter_turn_are_covered_as_stated() -> None:
    """5 pictures here; the full count stands in bench/stamper.py."""
    from bench.stamper import arcs

    assert arcs(5) >= 4 / 5


@pytest.mark.parametrize("by", [90.0, -88.0])
def test_a_second_scan_parts_the_scanner_from_an_oval_record(by: float) -> None:
    """Stretch 0.3 %, skew -0.1 % and a groove that is oval by 15 um itself."""
    scan = replace(SMALL, stretch=0.003, skew=-0.001, groove_oval=15e-6, hole_at=(80e-6, 0.0))
    once = found(scan)
    assert isinstance(once, PictureCentre)
    assert any("second scan turned by 90 deg tells" in caution for caution in once.cautions)
    both = found(scan, turned=replace(scan, turned=by))
    assert isinstance(both, PictureCentre)
    assert both.distortion is not None
    assert both.distortion.stretch == pytest.approx(0.003, abs=both.distortion.u95)
    assert both.distortion.skew == pytest.approx(-0.001, abs=both.distortion.u95)
    assert both.groove.uneven[0] * both.scale == pytest.approx(15e-6, abs=2e-6)
    assert both.hole.uneven[0] * both.scale < 1e-6
    assert errors(scan, both)[2] < 2e-6


def test_another_record_as_second_scan_is_noticed() -> None:
    """The offset of the second scan, turned back, is another one."""
    both = found(SMALL, turned=replace(SMALL, turned=90.0, hole_at=(150e-6, 0.0)), field=Field(u95=5e-6, checked=True))
    assert isinstance(both, PictureCentre)
    assert any("disagree by 15" in caution for caution in both.cautions)


def test_label_and_rim_are_found_beside_print() -> None:
    scan = replace(SMALL, size=1300, rim=25e-3, hole_at=(60e-6, 20e-6), label_at=(300e-6, -200e-6),
                   rim_at=(-150e-6, 80e-6), rim_oval=40e-6, print_marks=60)  # fmt: skip
    seen = found(scan)
    assert isinstance(seen, PictureCentre)
    assert seen.label is not None
    assert seen.rim is not None
    label, rim = seen.shift(seen.label), seen.shift(seen.rim)
    assert (label.x, label.y) == pytest.approx((240e-6, -220e-6), abs=1e-6)
    assert (rim.x, rim.y) == pytest.approx((-210e-6, 60e-6), abs=1e-6)
    peak, u95 = roundness(seen.rim)
    assert peak * seen.scale == pytest.approx(80e-6, abs=max(u95 * seen.scale, 1e-6))


def test_a_burr_is_named_with_its_hour() -> None:
    seen = found(replace(SMALL, burr=(150e-6, 90.0)))
    assert isinstance(seen, PictureCentre)
    assert -seen.hole.burr * seen.scale == pytest.approx(150e-6, abs=15e-6)
    assert any("At 9 o" in caution and "into the hole" in caution for caution in seen.cautions)
    assert errors(SMALL, seen)[2] < 2e-6


def test_a_slanted_picture_is_refused() -> None:
    for lean in (11.0, 20.0):
        seen = found(replace(SMALL, camera=0.5, tilt=(lean, 30.0)))
        assert isinstance(seen, Refused)
        assert "slant" in seen.reason
    photo = found(replace(SMALL, camera=0.5, tilt=(11.0, 30.0)), field=Field(camera=0.5))
    assert isinstance(photo, Refused)
    assert "the camera leans by about 1" in photo.reason


@pytest.mark.parametrize("lean", [0.3, 2.0])
def test_the_circle_of_a_photograph_holds_what_its_lean_hides(lean: float) -> None:
    scan = replace(SMALL, camera=0.5, tilt=(lean, 30.0), hole_at=(80e-6, 0.0))
    seen = found(scan, field=Field(u95=0.0, camera=0.5, checked=True))
    assert isinstance(seen, PictureCentre)
    assert seen.lean is not None
    assert np.degrees(seen.lean) == pytest.approx(lean, abs=0.4)
    assert errors(scan, seen)[2] < seen.field.u95 < 30e-6


def test_uneven_travel_is_told_by_a_measured_ring() -> None:
    """4 scans of the ring and 2 records on one scanner; the counts stand in bench/stamper.py."""
    from bench.stamper import travels

    assert travels(1) == 1.0
