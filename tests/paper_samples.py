"""Invented judged recordings to draw: each function returns what ``contract`` would hold, with its traces."""

from dataclasses import replace
from math import exp, sin, tau
from random import Random
from typing import Literal

from runtrue.contract.listening import (
    Burst,
    Centre,
    ChannelWord,
    Edit,
    FindingRow,
    Flutter,
    Input,
    Jump,
    Listening,
    Noise,
    NotJudged,
    OffCentre,
    Programme,
    Response,
    Settings,
    Speed,
    ThirdOctave,
    Tick,
    Traces,
    Train,
    Turn,
    VerdictWord,
)

DURATION = 195.0
PERIOD = 60.0 / (100.0 / 3.0)
START_MM, END_MM = 144.5, 128.0


def radius_at(t: float, duration: float = DURATION) -> float:
    return START_MM + (END_MM - START_MM) * t / duration


def tick_at(t: float, prominence: float = 18.0, *, channel: ChannelWord = "lateral", train: int | None = None) -> Tick:
    turns = t / PERIOD
    return Tick(
        programme_s=t, u95_s=0.0004, capture_s=t + 2.31, turn=int(turns), angle_deg=360.0 * (turns % 1.0),
        angle_u95_deg=0.5 + 0.0001 * 360.0 * turns,
        radius_mm=radius_at(t), radius_u95_mm=1.1, peak_db=prominence - 48.0, prominence_db=prominence, duration_ms=0.4,
        channel=channel, audible_probability=0.7 if prominence > 20 else 0.2, train=train,
    )  # fmt: skip


def row(
    quantity: str,
    words: str,
    unit: str,
    value: float | None,
    u95: float | None,
    *,
    upper: float | None = None,
    lower: float | None = None,
    verdict: VerdictWord = "pass",
    p: float | None = 0.999,
    about: Literal["disc", "rig"] = "disc",
    in_verdict: bool = True,
    meaning: str = "",
) -> FindingRow:
    return FindingRow(
        quantity=quantity, words=words, unit=unit, value=value, u95=u95, lower=lower, upper=upper, meaning=meaning,
        about=about, owner="Quality, Havelmoor Pressworks", source="IEC 98:1987", date="2026-03-03",
        rule="pass at 0.95, fail at 0.05", conformance_probability=p, verdict=verdict, in_verdict=in_verdict,
    )  # fmt: skip


def centre(offset: float, direction: float, u95: float) -> Centre:
    wide = 180.0 if u95 >= offset else 57.3 * u95 / offset
    return Centre(
        offset_um=offset, swing_um=2 * offset, direction_deg=direction, direction_u95_deg=wide, u95_um=u95,
        offset_u95_um=0.8 * u95, placings=1,
    )  # fmt: skip


def traces(offset_um: float = 60.0, *, duration: float = DURATION, seed: int = 1, reach: float = 1e9) -> Traces:
    chance = Random(seed)
    time = [float(t) for t in range(int(duration) + 1)]
    radius = [radius_at(t, duration) for t in time]
    level = [-14.0 + 8.0 * sin(tau * t / 61.0) + 3.0 * sin(tau * t / 7.3) + chance.gauss(0, 1.2) for t in time]
    level = [min(value, 3.0) - 40.0 * exp(-((t - 97.0) ** 2) / 4.0) for t, value in zip(time, level, strict=True)]
    swing = [0.1 * offset_um / r for r in radius]

    def told(values: list[float]) -> list[float | None]:
        return [value if t <= reach else None for t, value in zip(time, values, strict=True)]

    return Traces(
        programme_s=time,
        radius_mm=radius,
        level_db=told(level),
        noise_db_a=told([-61.0 + 0.8 * sin(tau * t / 40.0) + chance.gauss(0, 0.3) for t in time]),
        speed_low_percent=told([0.05 - s - 0.01 + chance.gauss(0, 0.002) for s in swing]),
        speed_high_percent=told([0.05 + s + 0.01 + chance.gauss(0, 0.002) for s in swing]),
        tick_threshold_db=told([12.0 + 3.0 * max(0.0, sin(tau * t / 50.0)) for t in time]),
    )


def judged(
    *, file: str = "copy-03-a.wav", offset: float = 60.0, direction: float = 215.0, u95: float = 6.0
) -> Listening:
    """A copy that passes; the others are changes of it."""
    sound = Input(file=file, sha256="7f3a91c2" * 8, rate_hz=48000, channels=2, duration_s=201.4)
    return Listening(
        verdict="pass",
        findings=[
            row("off_centre_offset", "off-centre, offset", "μm", offset, 0.8 * u95, upper=200.0, meaning="offset"),
            row("ticks_per_side", "ticks", "", 2.0, None, upper=10.0, p=1.0),
            row("tick_prominence", "loudest tick, over noise", "dB", 18.4, 0.9, upper=30.0),
            row("surface", "surface noise (A)", "dB", -61.2, 0.8, upper=-55.0),
            row("jumps_per_side", "jumps", "", 0.0, None, upper=0.0, p=1.0),
            row("speed_deviation", "speed", "%", 0.05, 0.004, lower=-0.5, upper=0.5, about="rig", in_verdict=False),
        ],
        not_judged=[NotJudged(key="noise.rumble_db", reason="the side has no silent groove longer than 2 s")],
        cautions=["the arm is not given: its angle is taken as unknown between 0 and 25 deg"],
        input=sound,
        reference=replace(sound, file="cut-a.wav", sha256="51bd0c77" * 8, duration_s=DURATION),
        settings=Settings(
            format="12in-33", rpm=100.0 / 3.0, start_radius_mm=START_MM, start_radius_u95_mm=1.0, end_radius_mm=END_MM,
            end_radius_u95_mm=1.5, arm="unknown, 0 to 25 deg", player_swing_percent=0.02, spindle_mm=(7.05, 7.15),
            hole_mm=(7.24, 7.33), limits="house.toml, 3 March 2026", digest="a41c77e0" * 8,
        ),
        version="0.1.0",
        programme=Programme(
            identity="same", matched=True, start_s=2.31, reach_s=(0.0, DURATION), polarity=1,
            channels="straight", edits=[],
        ),
        speed=Speed(deviation_percent=0.05, u95_percent=0.004),
        turn=Turn(period_s=PERIOD, u95_s=PERIOD * 1e-4, fitted=False),
        off_centre=OffCentre(
            played=centre(offset + 40.0, direction + 25.0, u95), disc=centre(offset, direction, u95),
            player_swing_percent=0.02, separated=["disc", "spindle"],
        ),
        flutter=Flutter(
            weighted_percent=0.09, u95_percent=0.003, weighted_without_once_a_turn_percent=0.05, bandwidth_hz=200.0
        ),
        ticks=[tick_at(31.2, 14.2), tick_at(140.7, 18.4, channel="L")],
        trains=[],
        bursts=[],
        jumps=[],
        noise=Noise(surface_db_a=-61.2, surface_db_468=-49.0, swish_db=1.1, rumble_db=None, hum_db=-71.0),
        response=Response(
            third_octaves=[ThirdOctave(hz=1000.0, outer_db=0.0, middle_db=0.0, inner_db=0.0)], balance_db=0.2,
            crosstalk_left_into_right_db=-28.0, crosstalk_right_into_left_db=-27.0,
        ),
        level_reference="programme",
    )  # fmt: skip


Sample = tuple[Listening, Traces]


def passes() -> Sample:
    return judged(), traces()


def fails_off_centre() -> Sample:
    base = judged(file="copy-05-a.wav", offset=268.0, direction=140.0, u95=38.0)
    rows = [replace(base.findings[0], value=268.0, u95=31.0, verdict="fail", conformance_probability=0.0004)]
    return replace(base, verdict="fail", findings=rows + base.findings[1:]), traces(268.0, seed=5)


def fails_ticks() -> Sample:
    base = judged(file="copy-06-a.wav")
    loud = [tick_at(83.4 + PERIOD * k, 31.2 - 2.0 * abs(k - 2), train=1) for k in range(5)]
    ticks = sorted([*base.ticks, tick_at(12.4, 12.8, channel="R"), *loud], key=lambda t: t.programme_s)  # type: ignore[misc]
    rows = [
        base.findings[0],
        replace(base.findings[1], value=float(len(ticks))),
        replace(base.findings[2], value=31.2, u95=0.9, verdict="fail", conformance_probability=0.004),
        *base.findings[3:],
    ]
    train = Train(id=1, count=5, period_s=PERIOD, from_s=83.4, to_s=83.4 + 4 * PERIOD)
    return replace(base, verdict="fail", findings=rows, ticks=ticks, trains=[train]), traces(seed=6)


def cannot_judge() -> Sample:
    base = judged(file="copy-07-a.wav", offset=163.0, direction=30.0, u95=62.0)
    rows = [replace(base.findings[0], value=163.0, u95=50.0, verdict="cannot_judge", conformance_probability=0.91)]
    return replace(base, verdict="cannot_judge", findings=rows + base.findings[1:]), traces(163.0, seed=7)


def empty(identity: Literal["other", "unclear"] = "unclear") -> Sample:
    """Unclear or other programme: most keys null."""
    base = judged(file="copy-09-a.wav")
    keys = ("speed", "off_centre", "flutter", "ticks", "trains", "bursts", "jumps", "noise", "response")
    reason = "the recording does not lie on the reference anywhere for 4 s"
    verdict: VerdictWord = "fail" if identity == "other" else "cannot_judge"
    first = row(
        "off_centre_offset", "off-centre, offset", "μm", None, None, upper=200.0, verdict="cannot_judge", p=None
    )
    return replace(
        base, verdict=verdict, findings=[first], not_judged=[NotJudged(key=k, reason=reason) for k in keys],
        programme=Programme(
            identity=identity, matched=False, start_s=None, reach_s=None, polarity=None, channels=None, edits=None
        ),
        speed=Speed(deviation_percent=None, u95_percent=None),
        off_centre=OffCentre(played=None, disc=None, player_swing_percent=None, separated=None),
        flutter=Flutter(
            weighted_percent=None, u95_percent=None, weighted_without_once_a_turn_percent=None, bandwidth_hz=None
        ),
        ticks=None, trains=None, bursts=None, jumps=None,
        noise=Noise(surface_db_a=None, surface_db_468=None, swish_db=None, rumble_db=None, hum_db=None),
        response=Response(
            third_octaves=None, balance_db=None, crosstalk_left_into_right_db=None, crosstalk_right_into_left_db=None
        ),
        level_reference=None,
    ), Traces()  # fmt: skip


def many_ticks(how_many: int = 200) -> Sample:
    base = judged(file="copy-11-a.wav")
    chance = Random(11)
    ticks = [
        tick_at(
            chance.uniform(0.0, DURATION),
            12.0 + chance.expovariate(1 / 5.0),
            channel="L" if chance.random() < 0.5 else "R",
        )
        for _ in range(how_many)
    ]
    ticks.sort(key=lambda t: t.programme_s)
    rows = [
        base.findings[0],
        replace(base.findings[1], value=float(how_many), verdict="fail", conformance_probability=0.0),
        replace(
            base.findings[2], value=max(t.prominence_db for t in ticks), verdict="fail", conformance_probability=0.01
        ),
        *base.findings[3:],
    ]
    return replace(base, verdict="fail", findings=rows, ticks=ticks), traces(seed=11)


def jumps_and_zones() -> Sample:
    base = judged(file="copy-12-b.wav")
    rows = [*base.findings[:4], replace(base.findings[4], value=2.0, verdict="fail", conformance_probability=0.0)]
    return replace(
        base, verdict="fail", findings=rows + base.findings[5:],
        jumps=[Jump(programme_s=61.0, turns=1), Jump(programme_s=120.4, turns=-1)],
        bursts=[
            Burst(
                turns=16, from_s=64.0, to_s=92.0, from_deg=320.0, to_deg=25.0, channel="R", level_db=-38.0,
                prominence_db=9.4, kind="non_fill_like",
            ),
            Burst(
                turns=1, from_s=151.0, to_s=151.4, from_deg=190.0, to_deg=260.0, channel="L", level_db=-41.0,
                prominence_db=8.1, kind="tearing_like",
            ),
        ],
    ), traces(seed=12)  # fmt: skip


def swapped_and_cut() -> Sample:
    base = judged(file="copy-13-a.wav", offset=20.0, u95=90.0)
    programme = replace(
        base.programme,
        channels="swapped",
        polarity=-1,
        reach_s=(6.0, 130.0),
        edits=[Edit(programme_s=70.0, skipped_s=3.4)],
    )
    cautions = [
        "left and right are swapped against the reference",
        "the recording starts 6.0 s late and stops 65 s early",
        "cut at 1:10.0: 3.4 s of the reference are left out",
    ]
    off = replace(base.off_centre, disc=None)
    return replace(base, programme=programme, cautions=cautions, off_centre=off), traces(20.0, seed=13, reach=130.0)


def long_side() -> Sample:
    """A 20-minute side, as in a real plant."""
    sound, _ = fails_ticks()
    duration = 1182.0
    end = 62.0

    def moved(tick: Tick) -> Tick:
        t = tick.programme_s * 6.0
        return replace(
            tick_at(t, tick.prominence_db, channel=tick.channel), radius_mm=START_MM + (end - START_MM) * t / duration
        )

    curves = traces(163.0, duration=duration)
    radius = [START_MM + (end - START_MM) * t / duration for t in curves.programme_s]
    assert sound.reference is not None
    return (
        replace(
            sound,
            ticks=[moved(t) for t in sound.ticks or []],
            trains=[],
            settings=replace(sound.settings, end_radius_mm=end),
            reference=replace(sound.reference, duration_s=duration),
            programme=replace(sound.programme, reach_s=(0.0, duration)),
        ),
        replace(curves, radius_mm=radius),
    )


def loud_ticks() -> Sample:
    """House limits: the number of loud ticks and not the loudest one; two jumps at one place."""
    base, curves = fails_ticks()
    rows = [
        row("programme_identity", "programme", "", 1.0, None, lower=1.0, p=1.0),
        row("loud_ticks_per_side", "loud ticks", "", 5.0, None, upper=1.0, verdict="fail", p=0.0),
        base.findings[0],
    ]
    twice = [Jump(programme_s=151.692, turns=-1), Jump(programme_s=151.698, turns=-1)]
    return replace(base, findings=rows, jumps=twice), curves


SAMPLES = {
    "passes": passes,
    "off_centre": fails_off_centre,
    "ticks": fails_ticks,
    "cannot_judge": cannot_judge,
    "unclear": empty,
    "other": lambda: empty("other"),
    "many_ticks": many_ticks,
    "jumps_and_zones": jumps_and_zones,
    "swapped_and_cut": swapped_and_cut,
    "long_side": long_side,
    "loud_ticks": loud_ticks,
}
