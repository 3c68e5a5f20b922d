"""The moment of listening: one recording, its reference and the house's limits become a judged result."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from math import hypot
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

import runtrue
from runtrue import listen
from runtrue.capture import Sound, open_sound
from runtrue.contract.listening import Listening, Traces
from runtrue.listen.heard import Heard, Identity
from runtrue.stats import conformity
from runtrue.types import About, Analysis, Finding, Limit, Measurement, Progress, Verdict
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.house import House, load_house
from runtrue.workflow.limits import StatedLimit
from runtrue.workflow.played import Played
from runtrue.workflow.printing import Judgement, Question, about_words, listening_of, settings_digest, traces_of
from runtrue.workflow.requests import ListenCheckRequest
from runtrue.workflow.rig import Rig
from runtrue.workflow.setting import cautions_of, setting_of

METHOD = "listening-1"
"""Name of the method; it changes when the same input may give another number."""
ABOUT_RIG = frozenset(
    {
        "speed_deviation", "flutter_weighted", "flutter_without_once_a_turn", "flutter_bandwidth", "rumble", "hum",
        "balance", "crosstalk_left_into_right", "crosstalk_right_into_left",
    }
)  # fmt: skip
"""What a single play cannot split between record and player: it judges the rig first."""
LOUD_TICK = 20.0
"""Prominence from which a tick counts as loud [dB]."""
AUDIBLE = 0.5
"""Probability of being heard from which a tick counts as audible."""
UNHEARD = 5.0
"""Programme time that may stay unheard while counts of faults still pass a side [s]. Our choice."""

IDENTITY_LIMIT = Limit(
    quantity="programme_identity", lower=1.0, owner="runtrue",
    source="a recording of another programme says nothing about this side", date="2026-11-24",
)  # fmt: skip
"""Stands in every judgement: other music fails, and what is not recognised cannot be judged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A judged recording: what is printed, the curves for pictures, and what stands once over both.

    ``waveforms`` (ticks, 2, 97) are the shapes of the listed ticks, by which copies are compared.
    """

    listening: Listening
    traces: Traces
    analysis: Analysis
    waveforms: NDArray[np.float16] | None = field(default=None, compare=False, repr=False)


def check(request: ListenCheckRequest, ports: Ports, progress: Progress) -> Checked:
    """Judge one recording. Raises ``InputError`` for what is not usable, before anything long begins."""
    check_request(request)
    house = load_house(limits=request.limits, standard=request.standard, rig=request.rig)
    setting = setting_of(request, house.rig)
    capture = Played(open_sound(request.capture), exchanged=house.rig is not None and house.rig.left == 1)
    reference = None if request.reference is None else open_sound(request.reference, what="reference")
    with TemporaryDirectory(prefix="runtrue-") as workspace:
        heard = listen.hear(capture, reference, setting, workspace=Path(workspace), progress=progress)
    judgement = judge(heard, house, reference)
    sounds = [sound for sound in (capture, reference) if sound is not None]
    cautions = [
        *(caution for sound in sounds for caution in sound.cautions),
        *capture.audit().cautions,
        *cautions_of(request, house.rig, setting),
        *_reach_caution(heard, reference),
        *(about_words(f) for f in judgement.findings if f not in judgement.in_verdict and f.verdict is Verdict.FAIL),
    ]
    question = Question(
        capture=capture, reference=reference, format=request.format, limits=house.limits.name, setting=setting
    )
    return Checked(
        listening=listening_of(heard, judgement, question, cautions),
        traces=traces_of(heard),
        analysis=_analysis([sound.digest for sound in sounds], settings_digest(setting), ports),
        waveforms=_waveforms(heard),
    )


def _waveforms(heard: Heard) -> NDArray[np.float16] | None:
    """Shapes of the ticks in their order; None where one of them has none."""
    shapes = [tick.waveform for tick in heard.ticks or ()]
    known = [shape for shape in shapes if shape is not None]
    return np.stack(known) if known and len(known) == len(shapes) else None


def measurements_of(heard: Heard, rig: Rig | None = None) -> list[Measurement]:
    """Everything that a limit may bound, with a reason where there is no value."""
    found = [_identity_measurement(heard), _centre_measurement(heard), *_counts_of(heard)]
    for measurement in heard.scalars:
        about = About.RIG if measurement.quantity in ABOUT_RIG else measurement.about
        found.append(_known_speed(replace(measurement, about=about), rig))
    measured = {measurement.quantity for measurement in found}
    missing = heard.programme.reason or "this version does not measure it"
    found += [
        Measurement(quantity=name, value=None, about=About.RIG, reason=missing) for name in sorted(ABOUT_RIG - measured)
    ]
    return found


def judge(heard: Heard, house: House, reference: Sound | None) -> Judgement:
    """Lay the limits beside what was heard.

    A level re another 0 dB than its limit's, and a count that is good over only part of the side, cannot be judged;
    nor can anything that stands on one recording alone.
    Findings about the rig do not count unless the rig file calibrates their quantity.
    """
    measurements = measurements_of(heard, house.rig)
    unheard = _unheard(heard, reference)
    findings = tuple(
        _whole_side(finding, unheard)
        for one in (*_identity(house), *house.limits.limits)
        for finding in conformity.judge([_referenced(m, one, heard.level_reference) for m in measurements], [one.limit])
    )
    if reference is None:
        findings = tuple(_not_without_reference(finding) for finding in findings)
    in_verdict = tuple(finding for finding in findings if _counts(finding, house.rig))
    return Judgement(findings=findings, in_verdict=in_verdict, verdict=conformity.verdict(in_verdict))


def _identity(house: House) -> tuple[StatedLimit, ...]:
    named = any(one.limit.quantity == IDENTITY_LIMIT.quantity for one in house.limits.limits)
    return () if named else (StatedLimit(limit=IDENTITY_LIMIT),)


def _identity_measurement(heard: Heard) -> Measurement:
    programme = heard.programme
    if programme.identity is Identity.UNCLEAR:
        return Measurement(
            quantity="programme_identity", value=None, reason=programme.reason or "the programme was not recognised"
        )
    return Measurement(quantity="programme_identity", value=1.0 if programme.identity is Identity.SAME else 0.0)


def _centre_measurement(heard: Heard) -> Measurement:
    centre = heard.centre
    if centre.disc is None:
        reason = centre.reason or heard.programme.reason or "the disc's off-centre was not told from the placing's"
        return Measurement(quantity="off_centre_offset", value=None, reason=reason)
    return Measurement(quantity="off_centre_offset", value=centre.disc, u95=centre.disc.u95)


def _counts_of(heard: Heard) -> Iterable[Measurement]:
    """Counts of faults over what was heard of the side."""
    jumps, ticks, why = heard.programme.jumps, heard.ticks, heard.reasons
    unheard = heard.programme.reason or "not judged"
    yield _count("jumps_per_side", None if jumps is None else len(jumps), why.get("jumps", unheard))
    tick_reason = why.get("ticks", unheard)
    yield _count("ticks_per_side", None if ticks is None else len(ticks), tick_reason)
    loud = None if ticks is None else sum(tick.prominence >= LOUD_TICK for tick in ticks)
    yield _count("loud_ticks_per_side", loud, tick_reason)
    odds = None if ticks is None else [tick.audible for tick in ticks]
    unknown = odds is None or None in odds
    audible = None if odds is None or unknown else sum((p or 0.0) >= AUDIBLE for p in odds)
    yield _count("audible_ticks_per_side", audible, why.get("ticks.audible_probability", tick_reason))
    loudest = None if ticks is None else max((tick.prominence for tick in ticks), default=12.0)
    yield Measurement(quantity="tick_prominence", value=loudest, reason="" if loudest is not None else tick_reason)


def _count(name: str, value: int | None, reason: str) -> Measurement:
    if value is None:
        return Measurement(quantity=name, value=None, reason=reason)
    return Measurement(quantity=name, value=float(value))


def _known_speed(measurement: Measurement, rig: Rig | None) -> Measurement:
    """Widen the speed by how well the calibrated platter is known."""
    if measurement.quantity != "speed_deviation" or rig is None or rig.speed_u95 is None or measurement.value is None:
        return measurement
    return replace(measurement, u95=hypot(measurement.u95 or 0.0, rig.speed_u95))


def _referenced(measurement: Measurement, stated: StatedLimit, reference: str | None) -> Measurement:
    """Take the value away where limit and measurement mean different 0 dB."""
    wanted = stated.level_reference
    if wanted is None or wanted == reference or measurement.quantity != stated.limit.quantity:
        return measurement
    if measurement.value is None:
        return measurement
    reason = f"the limit is re {wanted}, the level was measured re {reference or 'nothing known'}"
    return replace(measurement, value=None, u95=None, reason=reason)


_OVER_THE_SIDE = frozenset(
    {"jumps_per_side", "ticks_per_side", "loud_ticks_per_side", "audible_ticks_per_side", "tick_prominence"}
)


def _whole_side(finding: Finding, unheard: str) -> Finding:
    """What was not found on part of a side may lie on the rest: such a pass becomes "cannot judge"."""
    measurement = finding.measurement
    if not unheard or measurement.quantity not in _OVER_THE_SIDE or finding.verdict is not Verdict.PASS:
        return finding
    return replace(
        finding,
        measurement=replace(measurement, value=None, reason=unheard),
        conformance_probability=None,
        verdict=Verdict.CANNOT_JUDGE,
    )


def _not_without_reference(finding: Finding) -> Finding:
    """What music hides may be there and what it fakes may not: neither a pass nor a fail."""
    if finding.verdict is Verdict.CANNOT_JUDGE:
        return finding
    reason = "without a reference the music may hide it or fake it: the number is shown, not judged"
    return replace(
        finding,
        measurement=replace(finding.measurement, value=None, u95=None, reason=reason),
        conformance_probability=None,
        verdict=Verdict.CANNOT_JUDGE,
    )


def _unheard(heard: Heard, reference: Sound | None) -> str:
    """Say which part of the side was heard, when it is not all of it; empty when it is."""
    reach = heard.programme.reach
    if reach is None or reference is None:
        return ""
    missing = max(reach[0], 0.0) + max(reference.duration - reach[1], 0.0)
    if missing <= UNHEARD:
        return ""
    return f"heard from {_clock(reach[0])} to {_clock(reach[1])} of {_clock(reference.duration)} only"


def _reach_caution(heard: Heard, reference: Sound | None) -> list[str]:
    unheard = _unheard(heard, reference)
    return [f"The side was {unheard}: what lies on the rest is not judged."] if unheard else []


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(max(seconds, 0.0)), 60)
    return f"{minutes}:{rest:02d}"


def _counts(finding: Finding, rig: Rig | None) -> bool:
    """Whether a finding stands in the verdict: about the disc, or about a rig that is calibrated for it."""
    measurement = finding.measurement
    return measurement.about is About.DISC or (rig is not None and measurement.quantity in rig.calibrated)


def _analysis(digests: Sequence[str], settings: str, ports: Ports) -> Analysis:
    method = f"{METHOD} {runtrue.__version__}"
    key = sha256("\n".join([*digests, settings, method]).encode()).hexdigest()
    return Analysis(
        id=key, action="listen check", input_digests=tuple(digests), settings_digest=settings, method=METHOD,
        version=runtrue.__version__, at=ports.clock(),
    )  # fmt: skip
