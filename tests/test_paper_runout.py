"""The run-out plot and the move field: tidy, to scale, and pointing the right way."""

from pathlib import Path

import numpy as np
import pytest

from runtrue.contract.centre import StamperCentre
from runtrue.paper.centre_sheet import CentreWords, centre_pages
from runtrue.paper.drawing import Circle, Drawing, texts
from runtrue.paper.layout import PRINT, SCREEN, Pen
from runtrue.paper.runout import move_field, runout_plot
from runtrue.paper.svg import to_svg
from runtrue.types import silent
from runtrue.workflow.actions import system_ports
from runtrue.workflow.metal import centre
from runtrue.workflow.metal_requests import StamperCentreRequest
from tests.test_paper_pictures import check

PENS = {"page": SCREEN, "paper": PRINT}


def result(folder: Path, *, offset: tuple[float, float] = (70.0, -52.0), places: int = 12) -> StamperCentre:
    rng = np.random.default_rng(1)
    lines = ["angle_deg,reading_um"]
    for k in range(places):
        theta = 2.0 * np.pi * k / places
        value = 1000.0 + offset[0] * np.cos(theta) + offset[1] * np.sin(theta) + 4.0 * rng.standard_normal()
        lines.append(f"{np.degrees(theta):g},{value + (200.0 if k == 7 else 0.0):.1f}")
    path = folder / "lens.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return centre(StamperCentreRequest(readings=path, limit_offset_um=65.0), system_ports(), silent)


def drawn(found: StamperCentre, pen: Pen) -> tuple[Drawing, Drawing]:
    return (
        runout_plot(found, pen=pen, wide=180 * pen.grid, high=90 * pen.grid),
        move_field(found, pen=pen, wide=90 * pen.grid, high=100 * pen.grid),
    )


@pytest.mark.parametrize("pen", list(PENS))
def test_pictures_are_tidy(pen: str, tmp_path: Path) -> None:
    for one in drawn(result(tmp_path), PENS[pen]):
        check(one, PENS[pen])


def test_the_reading_left_out_is_named(tmp_path: Path) -> None:
    assert "reading 8 left out" in to_svg(drawn(result(tmp_path), SCREEN)[0])


def test_the_arrow_runs_from_the_groove_to_the_axis(tmp_path: Path) -> None:
    """The groove's centre lies to 12 and to 3: up and right of the cross."""
    field = drawn(result(tmp_path), SCREEN)[1]
    hatched = [c for c in field.items if isinstance(c, Circle) and c.hatch is not None]
    assert len(hatched) == 1
    rim = next(c for c in field.items if isinstance(c, Circle))
    assert hatched[0].cx > rim.cx
    assert hatched[0].cy < rim.cy
    assert "toward 7" in field.description


@pytest.mark.parametrize(("places", "pages"), [(2, 1), (12, 1), (36, 1), (90, 2)])
def test_the_sheet_is_tidy(places: int, pages: int, tmp_path: Path) -> None:
    found = result(tmp_path, places=places)
    made = centre_pages(found, CentreWords(found="Out of the limit, far off.", todo="Move it."), day="25 November 2026")
    assert len(made) == pages
    for one in made:
        check(one, PRINT)
    told = " ".join(text.text for one in made for text in texts(one.items))
    assert "Nickel dust" in told
    assert "Read by, date, time" in told
    if places > 2:
        assert f"{places}" in told
        assert "× " in told


def test_a_spiral_is_drawn_without_its_pitch(tmp_path: Path) -> None:
    lines = ["angle_deg,reading_um,turn"]
    for k in range(24):
        theta = 2.0 * np.pi * k / 12
        lines.append(f"{(30 * k) % 360},{50.0 * np.cos(theta) + 10.0 * k + 0.1 * (k % 3):.2f},{1 + k // 12}")
    (tmp_path / "lens.csv").write_text("\n".join(lines), encoding="utf-8")
    for pitch in (None, 120.0):
        request = StamperCentreRequest(readings=tmp_path / "lens.csv", groove="spiral", pitch_um=pitch)
        found = centre(request, system_ports(), silent)
        assert found.curve is not None
        heights = [height for _, height in found.curve]
        assert max(heights) - min(heights) == pytest.approx(100.0, abs=1.0)
        levels = [point.level_um for point in found.points]
        assert levels[0] == pytest.approx(levels[12], abs=1.0)
        assert heights[0] == pytest.approx(levels[0], abs=1.0)


def test_too_few_readings_say_so_in_the_frame(tmp_path: Path) -> None:
    for one in drawn(result(tmp_path, places=2), SCREEN):
        assert "read more angles" in one.description
