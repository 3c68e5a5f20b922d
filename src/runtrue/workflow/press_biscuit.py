"""The biscuit: what a record needs of compound, how long it warms, how it waits, and how hard the press holds it."""

from math import pi, sqrt

import numpy as np

import runtrue
from runtrue.contract import press_biscuit as printed
from runtrue.contract.press_cycle import Range
from runtrue.disc.formats import disc_format
from runtrue.errors import InputError
from runtrue.press.disc_and_biscuit import biscuit_for, disc_thickness, disc_volume, mean_pressure, mould_size, warm
from runtrue.press.flow import PowerLaw, close, frozen_skin, spread_time
from runtrue.press.layers import Side
from runtrue.press.materials import Material, material
from runtrue.types import Progress
from runtrue.units import MM, PERCENT, ZERO_DEGC
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.press_requests import PressBiscuitRequest
from runtrue.workflow.press_results import SAFETY, reasoned

PSI = 6894.757293168
"""Pascals in a pound-force a square inch, exact to the digits (0.45359237 kg, 9.80665 m/s2, 25.4 mm)."""
PLATE_FILM, AIR_FILM = 500.0, 10.0
"""Placeholders [W/(m2 K)]: a biscuit that lies on a plate without pressure; still air with radiation (our choice)."""
PLATE_U95 = 0.7
"""Half-width at 95 % of the ln of the plate's contact; our choice."""
FLOW = {
    "vinyl": (PowerLaw(consistency=8e3, exponent=0.35), 72.0 + ZERO_DEGC, "common practice, without a source"),
    "shellac": (None, 68.0 + ZERO_DEGC, ""),
}
"""Power law at press temperature and the temperature below which nothing flows; shellac's is not known."""


def biscuit(request: PressBiscuitRequest, ports: Ports, progress: Progress) -> printed.PressBiscuit:
    """Work out a biscuit. Raises ``InputError`` for what is not usable."""
    check_request(request)
    if (request.mass_g is None) is (request.thickness_mm is None):
        raise InputError("mass_g and thickness_mm: give one of them, the other follows")
    if (request.table_degc is None) is not (request.core_degc is None):
        raise InputError("table_degc and core_degc go together: how hot the table is, and what the core must come to")
    if (request.puck_degc is None) is not (request.waits_s is None):
        raise InputError("puck_degc and waits_s go together: how hot the puck is, and how long it waits")
    matter = material(request.compound)
    density = matter.density if request.density_g_cm3 is None else 1e3 * request.density_g_cm3
    record = _record(request, density)
    made = biscuit_for(
        record_mass=record.mass_g / 1e3, flash=request.flash_percent * PERCENT, density=density,
        diameter=request.biscuit_mm * MM,
    )  # fmt: skip
    size = printed.BiscuitSize(
        mass_g=round(1e3 * made.mass, 2), flash_g=round(1e3 * made.mass - record.mass_g, 2),
        diameter_mm=request.biscuit_mm, thickness_mm=round(made.thickness / MM, 3),
        over_record=round(made.thickness / MM / record.thickness_mm, 2),
    )  # fmt: skip
    result = printed.PressBiscuit(
        record=record,
        biscuit=size,
        preheat=_preheat(request, matter, made.thickness),
        waiting=_waiting(request, matter, made.thickness),
        pressing=_pressing(request, matter, record, made.mass / density),
        not_judged=[],
        cautions=_cautions(request, matter, size),
        safety=list(SAFETY),
        version=runtrue.__version__,
    )
    result.not_judged.extend(
        reasoned(
            result,
            {
                "preheat": "no table_degc and core_degc were given",
                "waiting": "no puck_degc and waits_s were given",
                "pressing": "no force_kn was given",
                "ready_s": "the core does not come to that on this table within an hour",
                "hottest_degc": "the core does not come to that on this table within an hour",
                "spread_free_ms": "no flow law is known of this compound",
                "closes_s": "needs puck_degc, die_degc and a flow law, and a skin that leaves the press a way",
                "skin_um": "needs puck_degc and die_degc",
            },
        )
    )
    return result


def _record(request: PressBiscuitRequest, density: float) -> printed.RecordSize:
    record = disc_format(request.format)
    diameter, hole = record.outside_diameter.value, 7.26 * MM
    if request.mass_g is not None:
        mass = request.mass_g / 1e3
        thickness = disc_thickness(mass=mass, density=density, diameter=diameter, hole=hole)
    else:
        thickness = (request.thickness_mm or 0.0) * MM
        mass = density * disc_volume(diameter=diameter, thickness=thickness, hole=hole)
    volume = disc_volume(diameter=diameter, thickness=thickness, hole=hole)
    contraction = request.contraction_percent * PERCENT
    return printed.RecordSize(
        format=request.format, diameter_mm=round(diameter / MM, 2), thickness_mm=round(thickness / MM, 3),
        mass_g=round(1e3 * mass, 2), volume_cm3=round(1e6 * volume, 2), density_g_cm3=round(density / 1e3, 4),
        contraction_percent=request.contraction_percent,
        mould_diameter_mm=round(mould_size(diameter, contraction) / MM, 2),
    )  # fmt: skip


def _preheat(request: PressBiscuitRequest, matter: Material, thickness: float) -> printed.Preheat | None:
    if request.table_degc is None or request.core_degc is None:
        return None
    table, start, core = (v + ZERO_DEGC for v in (request.table_degc, request.start_degc, request.core_degc))
    air = Side(temperature=request.room_degc + ZERO_DEGC, film=AIR_FILM)

    def ready(film: float) -> tuple[float | None, float]:
        plate = Side(temperature=table, film=film)
        warmed = warm(matter, thickness, start=start, below=plate, above=plate if request.both_sides else air,
                      seconds=3600.0)  # fmt: skip
        when = warmed.when_coldest_reaches(core)
        return when, float("nan") if when is None else float(np.interp(when, warmed.time, warmed.hottest))

    (when, hottest), (slow, _), (quick, _) = (
        ready(PLATE_FILM * float(np.exp(x))) for x in (0.0, -PLATE_U95, PLATE_U95)
    )
    known = when is not None and slow is not None and quick is not None
    return printed.Preheat(
        table_degc=request.table_degc, start_degc=request.start_degc, core_degc=request.core_degc,
        ready_s=Range(value=round(when or 0.0, 1), low=round(quick or 0.0, 1), high=round(slow or 0.0, 1))
        if known else None,
        hottest_degc=round(hottest - ZERO_DEGC, 1) if known else None,
    )  # fmt: skip


def _waiting(request: PressBiscuitRequest, matter: Material, thickness: float) -> printed.Waiting | None:
    if request.puck_degc is None or request.waits_s is None:
        return None
    air = Side(temperature=request.room_degc + ZERO_DEGC, film=AIR_FILM)
    cooled = warm(matter, thickness, start=request.puck_degc + ZERO_DEGC, below=air, above=air, seconds=request.waits_s)
    return printed.Waiting(
        seconds_s=request.waits_s, start_degc=request.puck_degc,
        skin_degc=round(float(cooled.coldest[-1]) - ZERO_DEGC, 1),
        mean_degc=round(float(cooled.mean[-1]) - ZERO_DEGC, 1),
    )  # fmt: skip


def _pressing(
    request: PressBiscuitRequest, matter: Material, record: printed.RecordSize, volume: float
) -> printed.Pressing | None:
    if request.force_kn is None:
        return None
    force, rim = 1e3 * request.force_kn, record.diameter_mm * MM / 2.0
    pressure = mean_pressure(force, record.diameter_mm * MM)
    law, solid, _ = FLOW[request.compound]
    start, end = volume / (pi * (request.biscuit_mm * MM / 2.0) ** 2), volume / (pi * rim**2)
    free = skin = closes = None
    if law is not None and end < start:
        free = 1e3 * spread_time(law, volume=volume, force=force, start=start, end=end)
    if request.puck_degc is not None and request.die_degc is not None:
        melt, wall = request.puck_degc + ZERO_DEGC, request.die_degc + ZERO_DEGC
        if melt <= max(wall, solid):
            raise InputError(
                f"puck_degc must be above die_degc and above {solid - ZERO_DEGC:g} degC, where nothing flows; got "
                f"{request.puck_degc:g} degC"
            )

        def grown(time: float) -> float:
            return float(frozen_skin(time, melt=melt, wall=wall, solid=solid, diffusivity=matter.diffusivity))

        if law is not None and end < start:
            done = close(
                law, volume=volume, rim=rim, force=force, start=start, end=end, ram=request.ram_mm_s * MM, skin=grown
            )
            closes = float(done.time[-1]) if done.reached else None
            skin = 1e6 * float(done.skin[-1]) if done.reached else None
        if skin is None:
            skin = 1e6 * grown(max((start - end) / (request.ram_mm_s * MM), 1e-3))
    return printed.Pressing(
        force_kn=request.force_kn, pressure_mpa=round(pressure / 1e6, 3), pressure_psi=round(pressure / PSI, 0),
        spread_free_ms=None if free is None else round(free, 3), closes_s=None if closes is None else round(closes, 3),
        skin_um=None if skin is None else round(skin, 1),
    )  # fmt: skip


def _cautions(request: PressBiscuitRequest, matter: Material, size: printed.BiscuitSize) -> list[str]:
    said = []
    if matter.placeholder:
        said.append(f"Properties of {matter.name} are placeholders: replace them with the supplier's data.")
    if request.table_degc is not None:
        said.append("The contact with the table is a placeholder; its range is in the time given.")
    if request.puck_degc is not None and request.waits_s is not None:
        height = sqrt(pi) / 2.0 * request.biscuit_mm
        if size.thickness_mm > 0.3 * height:
            said.append("The puck is high for its width: its edge cools too, and it is colder than worked out here.")
    if request.force_kn is not None:
        said.append(
            "Flow gives a trend: hot compound spreads in milliseconds, and a groove that does not fill is skin, air or "
            "a cold puck. Odds of non-fill come only from the plant's own counts."
        )
    if request.table_degc is not None and request.compound == "vinyl" and request.table_degc > 190.0:
        said.append("Vinyl on a table above 190 °C breaks down with time: hydrogen chloride.")
    return said
