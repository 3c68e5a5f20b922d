"""One recording without a reference: what can be measured, each with its caution; the programme stays unclear.

Programme time then counts from where the music begins after a lead-in that was heard, else from the start of the
recording, and levels are re full scale. Nothing that is found or not found here can pass or fail a record.
"""

from dataclasses import dataclass, replace

from runtrue.disc.frame import TURN_SPREAD_U95, Frame
from runtrue.listen.centre import spiral_of
from runtrue.listen.heard import Heard, HeardCentre, HeardJump, HeardProgramme, HeardTick, Identity
from runtrue.listen.pitch import Swing, find_swing
from runtrue.listen.repeats import find_repeats
from runtrue.listen.residual import find, residual_of, sections
from runtrue.listen.setting import Setting
from runtrue.listen.still import Still, StillMeter
from runtrue.listen.store import TRACK_RATE, WorkingCopy
from runtrue.listen.ticks import joined
from runtrue.listen.trains import find_trains
from runtrue.signal.stft import HOP
from runtrue.types import About, Measurement, Progress

REASON = "no reference was given to compare with"
SPEED_U95 = 0.006
"""How far the turn of the capture may be off, relative: 0.5 % of the standards and a little."""
START_U95 = 0.5
"""How well the start of the music is known from its lead-in [s]: a soft first note is missed."""
UNKNOWN_U95 = 30.0
"""The same where no lead-in was heard: anything [s]."""
_WITHOUT = "it is told only against a reference"
_CAUTIONS = {
    "ticks": "Without a reference the music hides ticks and fakes them (attacks, plosives, distortion): the list is no "
    "count of the disc's faults.",
    "repeats": "Without a reference a skip forward is not seen, and music that repeats itself to the sample one turn "
    "apart looks like a groove that repeats.",
    "noise": "Noise, hum and rumble are told re the recording's full scale and hold the player's and the recorder's "
    "own; a held bass note may pass for hum.",
    "swing": "The swing once a turn is read from the pitch of the music: the player's own is in it, and music in step "
    "with the turn can fake it.",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sounds:
    """Ticks (capture times) and the levels of what is still."""

    ticks: list[HeardTick]
    still: Still


def hear_alone(
    capture: WorkingCopy, setting: Setting, *, missing: tuple[tuple[str, About], ...], progress: Progress
) -> Heard:
    """Measure what one recording alone can tell; ``missing`` are the scalars a reference would have given."""
    sounds = _sounds(capture, setting, progress)
    progress("looking for a groove that repeats", 0.7)
    still = sounds.still
    start = still.start if still.start is not None else still.down
    turn = 1.0 / setting.turn_frequency
    repeats = find_repeats(capture.track[: round(still.up * TRACK_RATE)], turn_period=turn)
    duration = max(1.0, still.up - start)
    spiral = spiral_of(setting, duration)
    progress("following the pitch", 0.85)
    swing = find_swing(capture.track, spiral, setting, start=start)
    ticks = _placed(sounds.ticks, still, start)
    frame = Frame(
        turn_frequency=setting.turn_frequency,
        turn_frequency_u95=max(SPEED_U95, TURN_SPREAD_U95) * setting.turn_frequency,
        spiral=spiral,
    )
    trains = None if setting.quick else find_trains(ticks, turn_period=turn)
    return Heard(
        programme=HeardProgramme(
            identity=Identity.UNCLEAR, reason=REASON, start=still.start,
            jumps=tuple(HeardJump(programme_time=j.programme_time - start, turns=j.turns) for j in repeats),
        ),
        frame=frame,
        turn_fitted=False,
        centre=_centre(swing),
        scalars=(*still.scalars, *_missing(missing, still)),
        ticks=None if setting.quick else ticks,
        trains=trains,
        reasons=_reasons(setting),
        level_reference="full scale",
        cautions=_cautions(still),
    )  # fmt: skip


def _sounds(capture: WorkingCopy, setting: Setting, progress: Progress) -> _Sounds:
    meter = StillMeter(turn_period=1.0 / setting.turn_frequency)
    ticks: list[HeardTick] = []
    for first, spectra in sections(capture, 0, capture.frames):
        count = (spectra.shape[1] - 1) * HOP
        meter.push(spectra, capture.read(first, count))
        if not setting.quick:
            ticks += find(residual_of(first, spectra))[0]
        progress("listening for what is not music", 0.65 * min(1.0, (first + count) / max(1, capture.frames)))
    return _Sounds(ticks=ticks, still=meter.finish())


def _placed(ticks: list[HeardTick], still: Still, start: float) -> tuple[HeardTick, ...]:
    """Ticks with the needle in the groove, at programme times."""
    u95 = START_U95 if still.start is not None else UNKNOWN_U95
    inside = [t for t in ticks if still.down + 0.3 < t.capture_time < still.up - 0.1]
    return tuple(replace(t, programme_time=t.capture_time - start, time_u95=u95) for t in joined(inside))


def _centre(swing: Swing) -> HeardCentre:
    if swing.played is None:
        return HeardCentre(reason=swing.reason)
    return HeardCentre(played=swing.played, reason="", separated=())


def _missing(missing: tuple[tuple[str, About], ...], still: Still) -> list[Measurement]:
    told = {m.quantity for m in still.scalars}
    return [
        Measurement(quantity=name, value=None, about=about, reason=f"{REASON}: {_WITHOUT}")
        for name, about in missing
        if name not in told
    ]


def _reasons(setting: Setting) -> dict[str, str]:
    told = f"{REASON}: {_WITHOUT}"
    left_out = "left out: only the time line was asked for"
    return {
        "bursts": told,
        "noise": told,
        "response": told,
        "off_centre.disc": f"{REASON}: the disc's own offset is not told from the pitch of the music",
        "ticks.audible_margin_db": told,
        "ticks.audible_probability": told,
        **({"ticks": left_out, "trains": left_out} if setting.quick else {}),
    }


def _cautions(still: Still) -> tuple[str, ...]:
    where = (
        f"Times count from the first music heard after the lead-in, {still.start:.1f} s into the recording, within "
        f"{START_U95:g} s; angles with them."
        if still.start is not None
        else "No lead-in was heard: times count from the start of the recording, and no angle is known."
    )
    return (*_CAUTIONS.values(), where)
