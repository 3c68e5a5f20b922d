"""Dimensions of records.

IEC 60098:1987 clauses 8.4, 8.5, 8.9; IEC 98:1958 and 1964; BS 1928:1965; DIN 45547:1981; RIAA 1963: read in private
transcriptions. JIS S 8502-1973, dimension table: read in a transcription. Speed tolerance: IEC 60098:2020, clause 5.6,
read in a preview. Coarse groove: BS 1928, from memory. Tolerance: half the last printed digit.
"""

import pytest

from runtrue.disc.formats import (
    FORMATS,
    Certainty,
    Figure,
    Hole,
    Meaning,
    Standard,
    disc_format,
    eccentricity_limit,
    hole,
)
from runtrue.errors import InputError

IEC, BS, DIN, RIAA, JIS = (
    Standard.IEC,
    Standard.BS_1928,
    Standard.DIN_45547,
    Standard.RIAA_1963,
    Standard.JIS_S_8502,
)
MM = 1e-3


def mm(figure: Figure | None) -> float:
    assert figure is not None
    return figure.value / MM


@pytest.mark.parametrize(
    ("name", "standard", "printed"),
    [
        ("12in-33", IEC, 292.6), ("12in-45", IEC, 292.6), ("12in-33", Standard.IEC_1964, 292.6),
        ("12in-33", BS, 292.6), ("12in-33", DIN, 292.6), ("12in-33", RIAA, 292.1),
        ("12in-33", Standard.IEC_1958, 292.1), ("12in-33", JIS, 293.0),
        ("10in-33", IEC, 241.8), ("10in-33", JIS, 242.0), ("7in-45", IEC, 168.3),
        ("7in-33", JIS, 168.0), ("12in-78", BS, 292.1), ("10in-78", BS, 241.3),
    ],
)  # fmt: skip
def test_outermost_groove(name: str, standard: Standard, printed: float) -> None:
    assert mm(disc_format(name, standard).outermost_groove) == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize(
    ("name", "standard", "printed"),
    [("12in-33", DIN, 115.0), ("12in-33", JIS, 115.2), ("12in-33", Standard.IEC_1958, 120.0), ("12in-33", RIAA, 120.65),
     ("10in-33", JIS, 115.2), ("7in-45", JIS, 106.0)],
)  # fmt: skip
def test_innermost_groove(name: str, standard: Standard, printed: float) -> None:
    assert mm(disc_format(name, standard).innermost_groove) == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize(
    ("name", "standard", "printed", "tolerance"),
    [("12in-33", IEC, 106.4, 0.8), ("10in-33", RIAA, 106.4, 0.8), ("12in-45", JIS, 106.4, 0.8),
     ("7in-45", IEC, 97.4, 1.0), ("7in-45", JIS, 97.0, 1.0)],
)  # fmt: skip
def test_finishing_groove(name: str, standard: Standard, printed: float, tolerance: float) -> None:
    figure = disc_format(name, standard).finishing_groove
    assert mm(figure) == pytest.approx(printed, abs=0.05)
    assert figure.minus / MM == pytest.approx(tolerance, abs=0.05)
    assert figure.plus / MM == pytest.approx(tolerance, abs=0.05)


def test_finishing_groove_in_inches() -> None:
    figure = disc_format("12in-33").finishing_groove
    assert figure.value == pytest.approx((4 + 3 / 16) * 0.0254, abs=0.05e-3)
    assert figure.plus == pytest.approx(0.0254 / 32, abs=0.05e-3)


@pytest.mark.parametrize(
    ("standard", "low", "high"), [(IEC, 0.8, 1.6), (Standard.IEC_1964, 0.8, 1.6), (BS, 0.8, 1.6), (DIN, 0.8, 1.0)]
)
def test_lead_in_pitch(standard: Standard, low: float, high: float) -> None:
    figure = disc_format("12in-33", standard).lead_in_pitch
    assert figure is not None
    assert (figure.low / MM, figure.high / MM) == pytest.approx((low, high), abs=0.05)


@pytest.mark.parametrize(
    ("standard", "low", "high", "last_digit"),
    [(IEC, 3.2, 9.6, 0.1), (Standard.IEC_1958, 3.175, 9.525, 0.01), (RIAA, 4.2, 12.7, 0.1)],
)
def test_lead_out_pitch(standard: Standard, low: float, high: float, last_digit: float) -> None:
    figure = disc_format("12in-33", standard).lead_out_pitch
    assert figure is not None
    assert (figure.low / MM, figure.high / MM) == pytest.approx((low, high), abs=last_digit / 2)


@pytest.mark.parametrize(
    ("name", "standard", "low", "high"),
    [("12in-33", JIS, 299.0, 303.0), ("10in-45", JIS, 249.0, 253.0), ("7in-33", JIS, 174.0, 176.0),
     ("12in-33", RIAA, 302.0, 302.0), ("10in-78", BS, 250.03, 251.62), ("12in-78", BS, 300.83, 302.42)],
)  # fmt: skip
def test_outside_diameter(name: str, standard: Standard, low: float, high: float) -> None:
    figure = disc_format(name, standard).outside_diameter
    assert (figure.low / MM, figure.high / MM) == pytest.approx((low, high), abs=0.01)


@pytest.mark.parametrize(
    ("kind", "standard", "low", "high"),
    [
        (Hole.SMALL, IEC, 7.24, 7.33), (Hole.SMALL, BS, 7.24, 7.33), (Hole.SMALL, DIN, 7.24, 7.33),
        (Hole.SMALL, JIS, 7.24, 7.33), (Hole.SMALL, RIAA, 7.214, 7.290), (Hole.LARGE, JIS, 38.15, 38.25),
        (Hole.KNOCK_OUT, IEC, 7.24, 7.33),
    ],
)  # fmt: skip
def test_holes_pass_and_fail_at_their_bounds(kind: Hole, standard: Standard, low: float, high: float) -> None:
    figure = hole(kind, standard)
    step = 0.001
    for diameter in (low, high):
        assert figure.low / MM <= diameter + 0.0005
        assert figure.high / MM >= diameter - 0.0005
    if standard is not RIAA:  # printed in inches; the mm are rounded
        assert figure.holds(low * MM)
        assert figure.holds(high * MM)
    assert not figure.holds((low - step) * MM)
    assert not figure.holds((high + step) * MM)


def test_small_hole_in_inches() -> None:
    figure = hole(Hole.SMALL)
    assert (figure.low / 0.0254, figure.high / 0.0254) == pytest.approx((0.285, 0.2885), abs=0.0001)


@pytest.mark.parametrize(
    ("standard", "printed"),
    [(IEC, 0.2), (Standard.IEC_1964, 0.2), (Standard.IEC_1958, 0.2), (BS, 0.13), (DIN, 0.2), (RIAA, 1.27)],
)
def test_eccentricity_limit(standard: Standard, printed: float) -> None:
    assert mm(eccentricity_limit(standard)) == pytest.approx(printed, abs=0.005)


def test_a_swing_is_twice_the_offset() -> None:
    assert mm(eccentricity_limit(IEC, meaning=Meaning.SWING)) == pytest.approx(0.1)


def test_doubtful_and_recalled_figures_say_so() -> None:
    assert eccentricity_limit(RIAA).certainty is Certainty.DOUBTFUL
    assert disc_format("10in-78").innermost_groove.certainty is Certainty.MEMORY_LOW
    with pytest.raises(InputError, match="jis-s-8502: its eccentricity limit was not seen"):
        eccentricity_limit(JIS)


@pytest.mark.parametrize(("name", "pitch"), [("12in-33", 0.125), ("7in-45", 0.16), ("10in-78", 0.26)])
def test_usual_pitch(name: str, pitch: float) -> None:
    record = disc_format(name)
    assert mm(record.pitch) == pytest.approx(pitch)
    assert record.pitch_spread == pytest.approx(0.3)
    assert record.pitch.certainty is Certainty.COMMON_PRACTICE


@pytest.mark.parametrize(
    ("name", "radius"), [("12in-33", 145.7), ("10in-45", 120.3), ("7in-45", 83.55), ("10in-78", 120.65)]
)
def test_start_radius_when_nobody_says(name: str, radius: float) -> None:
    assert disc_format(name).start_radius / MM == pytest.approx(radius, abs=0.001)


@pytest.mark.parametrize("name", FORMATS)
@pytest.mark.parametrize("standard", list(Standard))
def test_every_figure_has_a_source_and_grooves_lie_in_order(name: str, standard: Standard) -> None:
    record = disc_format(name, standard)
    for figure in (record.outside_diameter, record.outermost_groove, record.innermost_groove, record.finishing_groove,
                   record.pitch, *record.speeds):  # fmt: skip
        assert figure.source
        assert figure.low <= figure.value <= figure.high
    assert record.finishing_groove.value < record.innermost_groove.value < record.outermost_groove.value
    assert record.outermost_groove.value < record.outside_diameter.value
