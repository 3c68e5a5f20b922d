"""From what was heard, in SI, to what is printed in shown units: ``Heard`` and findings to ``Listening``, ``Traces``.

Nothing is measured here. Numbers are rounded far below their uncertainty so that the same question prints the same
digits; what is None is listed in ``not_judged`` with its reason.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, is_dataclass
from hashlib import sha256
from json import dumps
from math import atan2, degrees, isfinite
from typing import Any

import runtrue
from runtrue.capture.sound import Sound
from runtrue.contract import listening as printed
from runtrue.disc.arm import UNKNOWN_OFFSET_RANGE, Arm
from runtrue.listen.heard import Heard, HeardThird, HeardTick
from runtrue.listen.setting import Setting
from runtrue.quantities import QUANTITIES, quantity
from runtrue.stats.plane import direction_half_width, length_half_width
from runtrue.types import About, Finding, PlaneVector, Verdict
from runtrue.units import DEG, MM, MS, PERCENT, UM, hz_to_rpm

_STRUCTURAL = ("findings", "ticks.train", "not_judged")
"""Where None means none or no bound, and not that nothing was judged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What was judged, and under which assumptions."""

    capture: Sound
    reference: Sound | None
    format: str
    limits: str
    setting: Setting


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """Findings, those of them that count, and the word over these."""

    findings: tuple[Finding, ...]
    in_verdict: tuple[Finding, ...]
    verdict: Verdict


def listening_of(heard: Heard, judgement: Judgement, question: Question, cautions: Sequence[str]) -> printed.Listening:
    """Build the printed result."""
    scalars = {m.quantity: m for m in heard.scalars}

    def scalar(name: str) -> float | None:
        found = scalars.get(name)
        value = found.value if found is not None else None
        return round(quantity(name).to_shown(value), 6) if isinstance(value, float) else None

    def scalar_u95(name: str) -> float | None:
        found = scalars.get(name)
        u95 = found.u95 if found is not None and found.value is not None else None
        return None if u95 is None else round(quantity(name).to_shown(u95), 6)

    programme = heard.programme
    bare = printed.Listening(
        verdict=judgement.verdict.value,
        findings=[_row(finding, finding in judgement.in_verdict) for finding in judgement.findings],
        not_judged=[],
        cautions=list(dict.fromkeys([*cautions, *heard.cautions])),
        input=_input(question.capture),
        reference=_input(question.reference) if question.reference is not None else None,
        settings=_settings(question, heard),
        version=runtrue.__version__,
        programme=printed.Programme(
            identity=programme.identity.value,
            matched=programme.identity.value == "same",
            start_s=_r(programme.start, 6),
            reach_s=None if programme.reach is None else (round(programme.reach[0], 4), round(programme.reach[1], 4)),
            polarity=_polarity(programme.polarity),
            channels=programme.channels.value if programme.channels is not None else None,
            edits=None if programme.edits is None else [
                printed.Edit(programme_s=round(e.programme_time, 4), skipped_s=round(e.skipped, 4))
                for e in programme.edits
            ],
        ),
        speed=printed.Speed(deviation_percent=scalar("speed_deviation"), u95_percent=scalar_u95("speed_deviation")),
        turn=printed.Turn(
            period_s=round(heard.frame.turn_period, 9),
            u95_s=round(heard.frame.turn_period_u95, 9),
            fitted=heard.turn_fitted,
        ),
        off_centre=printed.OffCentre(
            played=_centre(heard.centre.played, 1),
            disc=_centre(heard.centre.disc, heard.centre.placings),
            player_swing_percent=_r(heard.centre.player_swing, 6, PERCENT),
            separated=None if heard.centre.separated is None else list(heard.centre.separated),
        ),
        flutter=printed.Flutter(
            weighted_percent=scalar("flutter_weighted"),
            u95_percent=scalar_u95("flutter_weighted"),
            weighted_without_once_a_turn_percent=scalar("flutter_without_once_a_turn"),
            bandwidth_hz=scalar("flutter_bandwidth"),
        ),
        ticks=_ticks(heard),
        trains=_trains(heard),
        bursts=_bursts(heard),
        jumps=None if programme.jumps is None else [
            printed.Jump(programme_s=round(j.programme_time, 4), turns=j.turns) for j in programme.jumps
        ],
        noise=printed.Noise(
            surface_db_a=scalar("surface"),
            surface_db_468=scalar("surface_quasi_peak"),
            swish_db=scalar("swish"),
            rumble_db=scalar("rumble"),
            hum_db=scalar("hum"),
            **_noise_detail(heard),
        ),
        response=printed.Response(
            third_octaves=_third_octaves(heard),
            distortion=_distortion(heard),
            balance_db=scalar("balance"),
            crosstalk_left_into_right_db=scalar("crosstalk_left_into_right"),
            crosstalk_right_into_left_db=scalar("crosstalk_right_into_left"),
        ),
        level_reference=heard.level_reference,
    )  # fmt: skip
    missing = _not_judged(bare, heard, judgement.findings)
    return printed.Listening(**{**{f.name: getattr(bare, f.name) for f in fields(bare)}, "not_judged": missing})


def traces_of(heard: Heard) -> printed.Traces:
    """Build the curves for pictures; None where nothing was judged."""
    traces = heard.traces
    return printed.Traces(
        programme_s=[round(t, 3) for t in traces.time],
        radius_mm=[round(float(heard.frame.spiral.radius(t)) / MM, 4) for t in traces.time],
        level_db=_curve(traces.level, 1.0, 3),
        noise_db_a=_curve(traces.noise, 1.0, 3),
        speed_low_percent=_curve(traces.speed_low, PERCENT, 6),
        speed_high_percent=_curve(traces.speed_high, PERCENT, 6),
        tick_threshold_db=_curve(traces.tick_threshold, 1.0, 3),
    )


def settings_digest(setting: Setting) -> str:
    """SHA-256 of all the listening test is told. Limits are no part of it: judging again needs no playing."""
    return sha256(dumps(asdict(setting), sort_keys=True).encode()).hexdigest()


def _r(value: float | None, digits: int, factor: float = 1.0) -> float | None:
    return None if value is None else round(value / factor, digits)


def _curve(values: Sequence[float], factor: float, digits: int) -> list[float | None]:
    return [round(v / factor, digits) if isfinite(v) else None for v in values]


def _polarity(value: int | None) -> Any:
    return None if value is None else (1 if value > 0 else -1)


def _input(sound: Sound) -> printed.Input:
    return printed.Input(
        file=sound.name, sha256=sound.digest, rate_hz=sound.rate, channels=sound.channels,
        duration_s=round(sound.duration, 6),
    )  # fmt: skip


def _settings(question: Question, heard: Heard) -> printed.Settings:
    setting, spiral = question.setting, heard.frame.spiral
    return printed.Settings(
        format=question.format,
        rpm=round(hz_to_rpm(setting.turn_frequency), 6),
        start_radius_mm=round(setting.start_radius / MM, 4),
        start_radius_u95_mm=round(setting.start_radius_u95 / MM, 4),
        end_radius_mm=round(spiral.end / MM, 4),
        end_radius_u95_mm=round(spiral.end_u95 / MM, 4),
        arm=arm_words(setting.arm),
        player_swing_percent=round(setting.player_swing / PERCENT, 6),
        spindle_mm=(round(setting.spindle[0] / MM, 4), round(setting.spindle[1] / MM, 4)),
        hole_mm=(round(setting.hole[0] / MM, 4), round(setting.hole[1] / MM, 4)),
        listening_level_spl_db=setting.hearing.level,
        hearing_shift_db=round(setting.hearing.shift, 3),
        limits=question.limits,
        digest=settings_digest(setting),
    )


def arm_words(arm: Arm) -> str:
    """Say what is known of the arm."""
    if arm.length is not None and arm.overhang is not None:
        return f"pivoted, {arm.length / MM:g} mm, overhang {arm.overhang / MM:g} mm"
    if arm.offset is not None:
        return "tangential" if arm.offset == 0.0 else f"offset {arm.offset / DEG:g} deg"
    low, high = UNKNOWN_OFFSET_RANGE
    return f"unknown, {low / DEG:g} to {high / DEG:g} deg"


def _centre(vector: PlaneVector | None, placings: int) -> printed.Centre | None:
    if vector is None:
        return None
    return printed.Centre(
        offset_um=round(vector.length / UM, 3),
        swing_um=round(2.0 * vector.length / UM, 3),
        direction_deg=round(degrees(atan2(vector.y, vector.x)) % 360.0, 3) % 360.0,
        direction_u95_deg=round(degrees(direction_half_width(vector)), 3),
        u95_um=round(vector.u95 / UM, 3),
        offset_u95_um=round(length_half_width(vector) / UM, 3),
        placings=placings,
    )


def _train_of(heard: Heard) -> Mapping[int, int]:
    trains = heard.trains or ()
    return {member: number for number, train in enumerate(trains, 1) for member in train.members}


def _ticks(heard: Heard) -> list[printed.Tick] | None:
    if heard.ticks is None:
        return None
    train = _train_of(heard)
    return [_tick(heard, tick, train.get(index)) for index, tick in enumerate(heard.ticks)]


def _tick(heard: Heard, tick: HeardTick, train: int | None) -> printed.Tick:
    place = heard.frame.locate(tick.programme_time, time_u95=tick.time_u95)
    return printed.Tick(
        programme_s=round(tick.programme_time, 6),
        u95_s=round(tick.time_u95, 6),
        capture_s=round(tick.capture_time, 6),
        turn=place.turn,
        angle_deg=round(place.angle, 3) % 360.0,
        angle_u95_deg=round(place.angle_u95, 3),
        radius_mm=round(place.radius / MM, 4),
        radius_u95_mm=round(place.radius_u95 / MM, 4),
        peak_db=round(tick.peak, 3),
        prominence_db=round(tick.prominence, 3),
        duration_ms=round(tick.duration / MS, 4),
        channel=tick.channel.value,
        shape=tick.shape.value,
        audible_margin_db=_r(tick.margin, 2),
        audible_probability=_r(tick.audible, 4),
        train=train,
    )


def _trains(heard: Heard) -> list[printed.Train] | None:
    if heard.trains is None or heard.ticks is None:
        return None
    found = []
    for number, train in enumerate(heard.trains, 1):
        times = [heard.ticks[member].programme_time for member in train.members]
        found.append(
            printed.Train(
                id=number, count=len(times), period_s=round(train.period, 6), from_s=round(min(times), 6),
                to_s=round(max(times), 6),
            )
        )  # fmt: skip
    return found


def _bursts(heard: Heard) -> list[printed.Burst] | None:
    if heard.bursts is None:
        return None
    return [
        printed.Burst(
            turns=b.turns, from_s=round(b.start, 4), to_s=round(b.end, 4), from_deg=round(b.from_angle, 2) % 360.0,
            to_deg=round(b.to_angle, 2) % 360.0, channel=b.channel.value, level_db=round(b.level, 2),
            prominence_db=round(b.prominence, 2), kind=b.kind.value,
        )
        for b in heard.bursts
    ]  # fmt: skip


def _noise_detail(heard: Heard) -> dict[str, Any]:
    """The keys of the noise beyond its five levels."""
    noise = heard.noise
    if noise is None:
        names = ("lines", "third_octaves", "by_angle_db_a", "unmodulated_db_a", "under_programme_db_a")
        return dict.fromkeys(names)
    return {
        "lines": [printed.Line(hz=round(line.frequency, 2), db=round(line.level, 2)) for line in noise.lines],
        "third_octaves": [printed.NoiseBand(hz=third.frequency, **_radii(third, "db")) for third in noise.thirds],
        "by_angle_db_a": [_r(level, 2) for level in noise.by_angle],
        "unmodulated_db_a": _r(noise.unmodulated, 2),
        "under_programme_db_a": _r(noise.under_music, 2),
    }


def _radii(third: HeardThird, unit: str) -> dict[str, float | None]:
    return {
        f"{place}_{unit}": _r(value, 3) for place, value in zip(("outer", "middle", "inner"), third.values, strict=True)
    }


def _third_octaves(heard: Heard) -> list[printed.ThirdOctave] | None:
    if heard.response is None:
        return None
    return [printed.ThirdOctave(hz=third.frequency, **_radii(third, "db")) for third in heard.response.thirds]


def _distortion(heard: Heard) -> printed.Distortion | None:
    if heard.response is None:
        return None
    outer, middle, inner = (_r(value, 4, PERCENT) for value in heard.response.distortion)
    return printed.Distortion(outer_percent=outer, middle_percent=middle, inner_percent=inner)


def _row(finding: Finding, in_verdict: bool) -> printed.FindingRow:
    """One finding in the words of the limit's owner: a limit on swing shows the swing."""
    measurement, limit = finding.measurement, finding.limit
    swing = limit.meaning == "swing" and limit.quantity == "off_centre_offset"
    shown = QUANTITIES["off_centre_swing"] if swing else quantity(limit.quantity)
    scale = 2.0 if swing else 1.0
    value, u95 = measurement.value, measurement.u95
    if isinstance(value, PlaneVector):
        u95 = length_half_width(value)
        value = value.length
    rule = limit.rule
    return printed.FindingRow(
        quantity=shown.key,
        words=shown.words,
        unit=shown.shown_unit,
        value=None if value is None else round(scale * shown.to_shown(value), 6),
        u95=None if value is None or u95 is None else round(scale * shown.span_to_shown(u95), 6),
        lower=None if limit.lower is None else round(scale * shown.to_shown(limit.lower), 6),
        upper=None if limit.upper is None else round(scale * shown.to_shown(limit.upper), 6),
        meaning=limit.meaning,
        about=measurement.about.value,
        owner=limit.owner,
        source=limit.source,
        date=limit.date,
        rule=f"pass at {rule.pass_at_least:g}, fail at {rule.fail_at_most:g}",
        conformance_probability=_r(finding.conformance_probability, 6),
        verdict=finding.verdict.value,
        in_verdict=in_verdict,
    )


def _not_judged(result: printed.Listening, heard: Heard, findings: Sequence[Finding]) -> list[printed.NotJudged]:
    """Every null with its reason."""
    reasons = _reasons(heard)
    unheard = heard.programme.reason if heard.programme.identity.value != "same" else ""
    found: dict[str, str] = {}
    for key in dict.fromkeys(_nulls(result, "")):
        if not key.startswith(_STRUCTURAL):
            found[key] = _reason(key, reasons) or unheard or "this version does not judge it"
    for finding in findings:
        if finding.measurement.value is None:
            found[f"findings.{_row(finding, False).quantity}"] = finding.measurement.reason
    return [printed.NotJudged(key=key, reason=reason) for key, reason in found.items()]


_KEY_OF_QUANTITY = {
    "speed_deviation": ("speed.deviation_percent", "speed.u95_percent"),
    "flutter_weighted": ("flutter.weighted_percent", "flutter.u95_percent"),
    "flutter_without_once_a_turn": ("flutter.weighted_without_once_a_turn_percent",),
    "flutter_bandwidth": ("flutter.bandwidth_hz",),
    "surface": ("noise.surface_db_a",),
    "surface_quasi_peak": ("noise.surface_db_468",),
    "swish": ("noise.swish_db",),
    "rumble": ("noise.rumble_db",),
    "hum": ("noise.hum_db",),
    "balance": ("response.balance_db",),
    "crosstalk_left_into_right": ("response.crosstalk_left_into_right_db",),
    "crosstalk_right_into_left": ("response.crosstalk_right_into_left_db",),
}


def _reasons(heard: Heard) -> dict[str, str]:
    """Reasons by dotted key; the engine's own word goes first."""
    reasons = {"reference": "no reference was given"}
    if heard.centre.played is not None:
        reasons["off_centre.player_swing_percent"] = "what was heard does not part the player's own swing from the disc"
    if heard.centre.reason:
        reasons["off_centre"] = heard.centre.reason
    if heard.programme.reason:
        reasons["programme"] = heard.programme.reason
    for measurement in heard.scalars:
        if measurement.value is None:
            reasons |= dict.fromkeys(_KEY_OF_QUANTITY.get(measurement.quantity, ()), measurement.reason)
    return reasons | heard.reasons


def _reason(key: str, reasons: Mapping[str, str]) -> str:
    """Reason of the key itself, else of what it is part of."""
    while key:
        if key in reasons:
            return reasons[key]
        key = key.rpartition(".")[0]
    return ""


def _nulls(value: Any, key: str) -> Iterator[str]:
    """Dotted keys of every None; items of a list share the list's key."""
    if value is None:
        yield key
    elif is_dataclass(value):
        for item in fields(value):
            yield from _nulls(getattr(value, item.name), f"{key}.{item.name}" if key else item.name)
    elif isinstance(value, list):
        for item_ in value:
            yield from _nulls(item_, key)


def about_words(finding: Finding) -> str:
    """Caution for a finding about the rig that fails: it judges the rig first."""
    row = _row(finding, False)
    unit = f" {row.unit}" if row.unit else ""
    bounds = " to ".join(f"{b:g}" for b in (row.lower, row.upper) if b is not None)
    assert finding.measurement.about is About.RIG
    return (
        f"{row.words[:1].upper()}{row.words[1:]} is {row.value:.3g}{unit}, out of {bounds}{unit} ({row.source}); one "
        "play cannot tell record from player, so it is no verdict on the disc: check the player first."
    )
