"""The press of the story: a log of its thermocouples, what that tells, and whether it can run two seconds shorter."""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from runtrue.demo.compound_room import keep
from runtrue.types import silent
from runtrue.workflow.actions import Ports

SHORTER_S = 2.0
SEED = 4173


@dataclass(frozen=True, slots=True, kw_only=True)
class PressJob:
    """Write everything into ``folder``; ``now`` is the time of the story's paper."""

    folder: Path
    now: str


def measure_and_ask(job: PressJob) -> list[str]:
    """Log the press, fit its file to the log, draw its cycle, ask for two seconds; the sentences that come of it."""
    from runtrue.workflow.press_calibrate import calibrate_press
    from runtrue.workflow.press_cycle import cycle
    from runtrue.workflow.press_requests import PressCalibrateRequest, PressCycleRequest, PressShortenRequest
    from runtrue.workflow.press_results import SAFETY
    from runtrue.workflow.press_shorten import shorten
    from runtrue.workflow.press_words import calibration_told, shorten_told

    job.folder.mkdir()
    ports = Ports(clock=lambda: job.now)
    spec, log, fitted = (job.folder / name for name in ("press.toml", "log.csv", "calibration.json"))
    spec.write_text(files("runtrue.demo").joinpath("press.toml").read_text("utf-8"), encoding="utf-8")
    _table(log, _log())
    calibration = calibrate_press(PressCalibrateRequest(spec=spec, log=log), ports, silent)
    keep(fitted, calibration)
    picture = job.folder / "cycle.pdf"
    keep(
        job.folder / "cycle.json",
        cycle(PressCycleRequest(spec=spec, calibration=fitted, picture=picture), ports, silent),
    )
    asked = shorten(PressShortenRequest(spec=spec, by_s=SHORTER_S, calibration=fitted), ports, silent)
    keep(job.folder / "shorten.json", asked)
    return [calibration_told(calibration), *shorten_told(asked), SAFETY[-1]]


def _log() -> Mapping[str, Any]:
    """The press as it truly is, films and contacts other than its file has them, through its thermocouples."""
    import numpy as np

    from runtrue.forward.thermocouple import PressTruth, Slice, Spell, Spoil, thermocouple_log

    die = Slice(thickness=9e-3, conductivity=45.0, density=7850.0, specific_heat=475.0, joint=4300.0, start=318.15)
    nickel = Slice(thickness=2e-4, conductivity=90.7, density=8900.0, specific_heat=444.0, joint=5600.0, start=318.15)
    record = Slice(
        thickness=1.6e-3, conductivity=0.17, density=1380.0, specific_heat=1250.0, joint=5600.0, start=418.15
    )
    back = Slice(thickness=2e-4, conductivity=90.7, density=8900.0, specific_heat=444.0, joint=4300.0, start=318.15)
    steam, water = 443.56, 291.15
    truth = PressTruth(
        slices=(die, nickel, record, back, die), record=2,
        spells=(
            Spell(seconds=6.0, temperature_a=steam, film_a=9100.0, temperature_b=steam, film_b=9100.0, steam_bar_g=7.0),
            Spell(seconds=12.0, temperature_a=water, film_a=6700.0, temperature_b=water, film_b=6700.0),
        ),
        couples={"die_face_a_degc": (0, 1.0), "mid_plane_degc": (2, 0.5)},
    )  # fmt: skip
    spoil = Spoil(noise=0.5, offsets={"die_face_a_degc": 0.4}, late=0.2, gauge=0.02, thermometer=0.1)
    return thermocouple_log(truth, np.random.default_rng(SEED), spoil=spoil)


def _table(path: Path, columns: Mapping[str, Any]) -> None:
    rows = [",".join(f"{x:.2f}" for x in row) for row in zip(*columns.values(), strict=True)]
    path.write_text("\n".join([",".join(columns), *rows]) + "\n", encoding="utf-8")
