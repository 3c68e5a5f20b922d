"""Scans of known centres, spoiled by noise, dust and glare, and what the station makes of them."""

from dataclasses import replace

import numpy as np
import pytest

from runtrue.forward.scan import Scan, render
from runtrue.stamper.picture import PictureCentre, Refused, measure

DPI_1200 = 25.4e-3 / 1200
SMALL = Scan(scale=DPI_1200, size=1100, groove=21e-3, label=15e-3, dust=30)
"""A ring of 21 mm about the hole: the same pixels, fewer of them."""


def found(scan: Scan, seed: int = 1) -> PictureCentre | Refused:
    picture = render(scan, np.random.default_rng(seed))
    return measure(picture, scale=scan.scale, hole_diameter=7.26e-3, groove_diameter=scan.groove)


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
    centre = measure(both, scale=DPI_1200, hole_diameter=7.26e-3, groove_diameter=21e-3)
    assert isinstance(centre, Refused)
    assert "2 holes" in centre.reason


def test_a_measured_hole_gives_the_scale() -> None:
    picture = render(SMALL, np.random.default_rng(1))
    centre = measure(
        picture, scale=1.01 * DPI_1200, hole_diameter=7.26e-3, groove_diameter=21e-3, known_hole=7.26e-3, field_u95=5e-6
    )
    assert isinstance(centre, PictureCentre)
    assert centre.scale == pytest.approx(DPI_1200, rel=1e-4)
    assert centre.field.u95 < 10e-6


def test_arcs_of_a_quarter_turn_are_covered_as_stated() -> None:
    """8 pictures here; the full count stands in bench/stamper.py."""
    from bench.stamper import arcs

    assert arcs(8) >= 7 / 8
