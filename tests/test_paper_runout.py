"""The run-out plot and the move field: tidy, to scale, and pointing the right way."""

from pathlib import Path

import numpy as np
import pytest

from runtrue.contract.centre import StamperCentre
from runtrue.paper.drawing import Circle, Drawing
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


def test_too_few_readings_say_so_in_the_frame(tmp_path: Path) -> None:
    for one in drawn(result(tmp_path, places=2), SCREEN):
        assert "read more angles" in one.description
