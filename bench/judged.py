"""A scene rendered, judged and compared with its truth: what is left is a few numbers."""

from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from bench.prominence import prominence_db
from bench.scenes import CELL_S, Scene, audible, levels_of
from runtrue.capture import sound_from_array
from runtrue.forward.sound import Rendered
from runtrue.listen import hear
from runtrue.listen.heard import ChannelOrder, Heard, Identity
from runtrue.signal.weighting import flutter_weighting, two_sigma, weigh
from runtrue.types import silent

PROMINENT_DB = 20.0
"""Ticks from this prominence on must be found."""
FOUND_S = 1e-3
JUMP_S = 0.1
REACH_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One scene's result against its truth."""

    identity: Identity
    reason: str
    scene: Scene | None = None
    """None for real music."""
    recognised: bool = False
    """Whether the fault of the scene was named and no other."""
    said: str = ""
    """What was named."""
    vector_error: float | None = None
    """|played - truth| [m]."""
    circle: float | None = None
    """U95 radius [m]."""
    speed_error: float | None = None
    flutter: tuple[float, float, float] | None = None
    """Weighted flutter: read, its U95, and of the maker's own time line [-]; None where not judged."""
    start_error: float | None = None
    prominent: int = 0
    missed: tuple[str, ...] = ()
    false: tuple[str, ...] = ()
    minutes: float = 0.0
    raised: float | None = None
    jumps_made: int = 0
    jumps_found: int = 0


def listen(scene: Scene, made: Rendered, *, player_swing: float = 0.0) -> Heard:
    """Judge a render."""
    with TemporaryDirectory() as folder:
        return hear(
            sound_from_array(made.capture, made.rate),
            sound_from_array(scene.reference(), scene.rate),
            scene.setting(player_swing=player_swing),
            workspace=Path(folder),
            progress=silent,
        )


def judge(scene: Scene) -> Outcome:
    """Render, judge, compare."""
    made = scene.make()
    heard = listen(scene, made)
    programme = heard.programme
    recognised, said = named(scene, made, heard)
    if programme.identity is not Identity.SAME:
        return Outcome(
            scene=scene, identity=programme.identity, reason=programme.reason, recognised=recognised, said=said,
            jumps_made=len(made.truth.jumps),
        )  # fmt: skip
    return replace(
        measured(made, heard, ticks=scene.kind == "measure"),
        scene=scene,
        recognised=recognised,
        said=said,
        jumps_made=len(made.truth.jumps),
        jumps_found=_jumps_found(made, heard),
    )


def measured(made: Rendered, heard: Heard, *, ticks: bool) -> Outcome:
    """The numbers of one render against its truth."""
    programme, played = heard.programme, heard.centre.played
    speed = next((m.value for m in heard.scalars if m.quantity == "speed_deviation"), None)
    prominent, missed, false = ticks_against(made, heard) if ticks else (0, (), ())
    start, true_start = programme.start, made.truth.start
    return Outcome(
        identity=programme.identity,
        reason=heard.centre.reason,
        vector_error=None if played is None else abs(complex(played.x, played.y) - made.truth.played_axis),
        circle=None if played is None else played.u95,
        speed_error=speed - made.truth.speed if isinstance(speed, float) else None,
        flutter=_flutter(made, heard),
        start_error=None if start is None or true_start is None else start - true_start,
        prominent=prominent,
        missed=missed,
        false=false,
        minutes=len(made.capture) / made.rate / 60.0,
        raised=heard.threshold_raised,
    )


def _flutter(made: Rendered, heard: Heard) -> tuple[float, float, float] | None:
    """The reading beside that of the maker's exact time line, a sample each millisecond."""
    found = next((m for m in heard.scalars if m.quantity == "flutter_weighted"), None)
    if found is None or not isinstance(found.value, float) or found.u95 is None or heard.programme.reach is None:
        return None
    line, step = made.truth.line, 1e-3
    time = np.arange(0.0, len(made.capture) / made.rate, step)
    programme = line.programme_time(time)
    programme = programme[(programme > heard.programme.reach[0]) & (programme < heard.programme.reach[1])]
    speed = np.diff(programme) / step
    weighted = weigh(speed - speed.mean(), flutter_weighting, rate=1.0 / step, mirror=4.0)
    trim = round(1.0 / step)
    return found.value, found.u95, two_sigma(weighted[trim:-trim])


def try_judge(scene: Scene) -> Outcome:
    """As ``judge``; what fails by an exception of ours is an outcome that says so."""
    try:
        return judge(scene)
    except Exception as error:
        said = f"{type(error).__name__}: {error}"
        return Outcome(
            scene=scene, identity=Identity.UNCLEAR, reason=said, recognised=False, said=said,
            jumps_made=len(scene.play.player.jumps),
        )  # fmt: skip


def ticks_against(made: Rendered, heard: Heard) -> tuple[int, tuple[str, ...], tuple[str, ...]]:
    """How many ticks are prominent by the exact noise; those missed; and those listed where none is."""
    found = np.array([t.programme_time for t in heard.ticks or ()])
    noise = made.noise
    prominent, missed = 0, []
    for tick in made.truth.ticks:
        height = prominence_db(noise, made.rate, tick)
        if height < PROMINENT_DB:
            continue
        prominent += 1
        if not len(found) or np.abs(found - tick.programme_time).min() > FOUND_S:
            missed.append(f"{tick.axis} at {tick.programme_time:.3f} s, {height:.1f} dB")
    true = np.array([t.programme_time for t in made.truth.ticks])
    false = [
        f"{t.channel} at {t.programme_time:.3f} s, {t.prominence:.1f} dB"
        for t in heard.ticks or ()
        if not len(true) or np.abs(true - t.programme_time).min() > 3.0 * FOUND_S
    ]
    return prominent, tuple(missed), tuple(false)


def _jumps_found(made: Rendered, heard: Heard) -> int:
    found = heard.programme.jumps or ()
    return sum(
        any(j.turns == true.turns and abs(j.programme_time - true.programme_time) < JUMP_S for j in found)
        for true in made.truth.jumps
    )


def named(scene: Scene, made: Rendered, heard: Heard) -> tuple[bool, str]:
    """Whether exactly the fault of the scene was named, and what was named in words."""
    programme = heard.programme
    if programme.identity is not Identity.SAME:
        return (
            programme.identity is Identity.OTHER and scene.kind == "other",
            f"{programme.identity}: {programme.reason}",
        )
    said = []
    if programme.channels is not ChannelOrder.STRAIGHT and not scene.mono:
        said.append(str(programme.channels))
    if programme.polarity == -1:
        said.append("inverted")
    said += _ends(scene, made, programme.reach or (0.0, 0.0))
    said += [f"jump {j.turns:+d} at {j.programme_time:.3f}" for j in programme.jumps or ()]
    said += [f"edit {e.skipped:+.3f} at {e.programme_time:.3f}" for e in programme.edits or ()]
    return _right(scene, made, heard, said), "; ".join(said) or "nothing"


def _ends(scene: Scene, made: Rendered, reach: tuple[float, float]) -> list[str]:
    """What the reach says of a late needle or an early stop; silence at the programme's ends may be left out."""
    loud = np.flatnonzero(audible(levels_of(scene.reference(), scene.rate)))
    first, last = loud[0] * CELL_S, (loud[-1] + 1) * CELL_S
    low, high = reach
    true_low, true_high = made.truth.reach
    said = []
    if low > first + REACH_S:
        said.append("late" if abs(low - true_low) < REACH_S else f"late {low:.2f} not {true_low:.2f}")
    if high < last - REACH_S:
        said.append("early" if abs(high - true_high) < REACH_S else f"early {high:.2f} not {true_high:.2f}")
    return said


def _right(scene: Scene, made: Rendered, heard: Heard, said: list[str]) -> bool:
    if scene.kind in ("clean", "measure"):
        return not said
    if scene.kind == "jumps":
        return len(said) == len(made.truth.jumps) == _jumps_found(made, heard)
    if scene.kind == "edit":
        (cut,) = made.truth.play.disc.cuts
        edits = heard.programme.edits or ()
        return len(said) == len(edits) == 1 and (
            abs(edits[0].skipped - (cut.end - cut.start)) < 0.01 and abs(edits[0].programme_time - cut.start) < JUMP_S
        )
    if scene.kind == "swapped" and scene.mono:
        return not said
    return said == [scene.kind]
