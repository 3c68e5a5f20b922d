"""What a picture shows of a recording's faults: their times and places, the chosen one, and which of them fail."""

from bisect import bisect_left
from dataclasses import dataclass

from runtrue.contract.listening import Burst, Centre, FindingRow, Listening, Tick, Traces
from runtrue.disc.formats import Hole as HoleKind
from runtrue.disc.formats import disc_format, hole
from runtrue.paper.words import LOUD_DB, clock, quantity_of
from runtrue.units import MM

LABEL_MM = {12: 100.0, 10: 100.0, 7: 92.0}
"""Label diameter by nominal size in inches [mm]: 4 in and 3 5/8 in, common practice; 10 in as 12 in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """The disc's circles [mm, radii], from the format's data."""

    rim: float
    outermost: float
    finishing: float
    label: float
    hole: float


def outline_of(format_name: str) -> Outline:
    """Return the circles of a format as it is played with a small hole."""
    found = disc_format(format_name)
    return Outline(
        rim=found.outside_diameter.value / 2.0 / MM,
        outermost=found.outermost_groove.value / 2.0 / MM,
        finishing=found.finishing_groove.value / 2.0 / MM,
        label=LABEL_MM[found.inches] / 2.0,
        hole=hole(HoleKind.SMALL).value / 2.0 / MM,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault with a place. ``kind`` is "tick" or "jump"; ``weight`` is a tick's prominence [dB]."""

    kind: str
    programme_s: float
    angle_deg: float
    angle_u95_deg: float
    radius_mm: float
    weight: float = 0.0
    turns: int = 0
    failing: bool = False

    @property
    def time(self) -> str:
        """Its programme time as a label."""
        return clock(self.programme_s)


def radius_at(traces: Traces, programme_s: float) -> float | None:
    """Return the radius of the traces' nearest point; None where the traces say nothing."""
    times = traces.programme_s
    if not times or not traces.radius_mm:
        return None
    after = min(bisect_left(times, programme_s), len(times) - 1)
    before = max(after - 1, 0)
    near = after if abs(times[after] - programme_s) <= abs(times[before] - programme_s) else before
    return traces.radius_mm[near]


def turn_angle(listening: Listening, programme_s: float) -> float:
    """Angle of the groove at a programme time [deg]: the disc's frame, as the contract states it."""
    return 360.0 * (programme_s / listening.turn.period_s % 1.0)


def finding(listening: Listening, *quantities: str) -> FindingRow | None:
    """Return the first finding on one of these quantities."""
    for row in listening.findings:
        known = quantity_of(row)
        if known is not None and known.id in quantities:
            return row
    return None


def fails(listening: Listening, *quantities: str) -> bool:
    """Whether a finding on one of these quantities is out of limit."""
    return any(
        row.verdict == "fail" and (known := quantity_of(row)) is not None and known.id in quantities
        for row in listening.findings
    )


def tick_fault(tick: Tick, *, failing: bool) -> Fault:
    """The place of a tick."""
    return Fault(
        kind="tick", programme_s=tick.programme_s, angle_deg=tick.angle_deg, angle_u95_deg=tick.angle_u95_deg,
        radius_mm=tick.radius_mm, weight=tick.prominence_db, failing=failing,
    )  # fmt: skip


def ticks_of(listening: Listening) -> list[Fault]:
    """All ticks, those out of limit marked: louder than the limit, or of a kind whose number is out of limit."""
    row = finding(listening, "tick_prominence")
    limit = row.upper if row is not None and row.verdict == "fail" else None
    every = fails(listening, "ticks_per_side")
    loud = fails(listening, "loud_ticks_per_side")
    audible = fails(listening, "audible_ticks_per_side")

    def failing(tick: Tick) -> bool:
        return (
            every
            or (loud and tick.prominence_db >= LOUD_DB)
            or (audible and (tick.audible_probability or 0.0) >= 0.5)
            or (limit is not None and tick.prominence_db > limit)
        )

    return [tick_fault(tick, failing=failing(tick)) for tick in listening.ticks or []]


def jumps_of(listening: Listening, traces: Traces) -> list[Fault]:
    """All jumps whose radius the traces tell."""
    failing = fails(listening, "jumps_per_side")
    faults: list[Fault] = []
    for jump in listening.jumps or []:
        radius = radius_at(traces, jump.programme_s)
        if radius is not None:
            faults.append(
                Fault(
                    kind="jump", programme_s=jump.programme_s, angle_deg=turn_angle(listening, jump.programme_s),
                    angle_u95_deg=0.0, radius_mm=radius, turns=jump.turns, failing=failing,
                )
            )  # fmt: skip
    return faults


def chosen_fault(listening: Listening, traces: Traces) -> Fault | None:
    """Return the fault a report points at: the first jump out of limit, else the loudest tick out of limit."""
    failing = [fault for fault in [*jumps_of(listening, traces), *ticks_of(listening)] if fault.failing]
    return max(failing, key=lambda fault: (fault.kind == "jump", fault.weight), default=None)


def centre_limit(listening: Listening) -> float | None:
    """The most an offset may be [um]; a limit on the swing bounds twice the offset."""
    row = finding(listening, "off_centre_offset", "off_centre_swing")
    if row is None or row.upper is None:
        return None
    known = quantity_of(row)
    return row.upper / 2.0 if known is not None and known.id == "off_centre_swing" else row.upper


def centres(listening: Listening) -> tuple[Centre | None, Centre | None]:
    """Return the off-centre to draw filled and the one to outline: the disc's and this placing's."""
    found = listening.off_centre
    return (found.disc, found.played) if found.disc is not None else (found.played, None)


def zone_words(zone: Burst) -> str:
    """ "1:04 to 1:32", or one time for a short zone."""
    first, last = clock(zone.from_s, tenths=False), clock(zone.to_s, tenths=False)
    return first if first == last else f"{first} to {last}"
