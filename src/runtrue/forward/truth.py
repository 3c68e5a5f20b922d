"""What the maker knows about a capture it made."""

from cmath import phase
from dataclasses import dataclass
from math import degrees
from typing import Any

from runtrue.forward.events import BurstTruth, TickTruth, TrainTruth
from runtrue.forward.faults import Play
from runtrue.forward.timeline import JumpTruth, TimeMap


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """Everything the maker knows. Times in seconds, angles in radians, offsets in metres."""

    play: Play
    seed: int
    rate: int
    frames: int
    line: TimeMap
    """The exact time map: ``programme_time(tc)``, ``captures(t)``, ``angle(tc)``."""
    reach: tuple[float, float]
    """Programme time at the first sample in the groove and at the last, held to the reference's ends."""
    start: float | None
    """Capture time of programme time 0; None when it is not in the capture."""
    speed: float
    """Programme time per capture time less 1, mean over the reach, jumps left out."""
    turn_period: float
    """Programme seconds per turn of the groove."""
    played_axis: complex
    """From groove centre to the axis turned about: offset + slack + run-out [m]."""
    programme_db: float
    """Rms of the reference re full scale, mean power of left and right."""
    surface_db: float | None
    """Rms of the surface noise above 200 Hz re full scale, before gain."""
    ticks: tuple[TickTruth, ...]
    trains: tuple[TrainTruth, ...]
    bursts: tuple[BurstTruth, ...]
    jumps: tuple[JumpTruth, ...]

    def shown(self) -> dict[str, Any]:
        """The truth in shown units, ready for JSON; keys as in the results of ``listen check`` where there is one."""
        disc, player = self.play.disc, self.play.player
        return {
            "rate_hz": self.rate,
            "frames": self.frames,
            "seed": self.seed,
            "start_s": self.start,
            "reach_s": list(self.reach),
            "speed_percent": 100.0 * self.speed,
            "turn_period_s": self.turn_period,
            "disc_offset_um": 1e6 * abs(disc.axis),
            "disc_direction_deg": degrees(phase(disc.axis)) % 360.0,
            "played_offset_um": 1e6 * abs(self.played_axis),
            "played_direction_deg": degrees(phase(self.played_axis)) % 360.0,
            "player_swing_percent": 100.0 * player.swing,
            "polarity": player.polarity,
            "channels": player.channels,
            "programme_db": self.programme_db,
            "surface_db": self.surface_db,
            "ticks": [
                {
                    "programme_s": t.programme_time,
                    "capture_s": t.capture_time,
                    "angle_deg": float(degrees(self.line.angle(t.capture_time))),
                    "peak_db": t.peak_db,
                    "axis": t.axis,
                    "kind": t.kind,
                    "train": t.train,
                }
                for t in self.ticks
            ],
            "trains": [
                {"id": t.id, "count": t.count, "period_s": t.period, "from_s": t.start, "to_s": t.end}
                for t in self.trains
            ],
            "bursts": [
                {
                    "from_s": b.start,
                    "to_s": b.end,
                    "from_deg": degrees(b.from_angle),
                    "to_deg": degrees(b.to_angle),
                    "axis": b.axis,
                    "kind": b.kind,
                    "level_db": b.level_db,
                    "zone": b.zone,
                }
                for b in self.bursts
            ],
            "jumps": [
                {
                    "programme_s": j.programme_time,
                    "capture_s": j.capture_time,
                    "turns": j.turns,
                    "lands_at_s": j.lands_at,
                }
                for j in self.jumps
            ],
            "edits": [{"from_s": c.start, "to_s": c.end} for c in disc.cuts],
        }
