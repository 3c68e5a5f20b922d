"""The question of output: can it run some seconds shorter, at what odds, and what trial would prove it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import floor

import numpy as np
from numpy.typing import NDArray

import runtrue
from runtrue.contract import press_shorten as printed
from runtrue.contract.press_cycle import Range
from runtrue.errors import InputError
from runtrue.paper.words import listed
from runtrue.press.calibrate import Posterior, drawn_press
from runtrue.press.conduction import ROUGH_MESH
from runtrue.press.cycle import Recipe, known_input, sensitivities, varied
from runtrue.press.materials import Number
from runtrue.press.shorten import (
    DRAWS,
    NON_FILL,
    PRESSES,
    WARP,
    Shares,
    Slope,
    Spread,
    Tally,
    bound_effects,
    draws_of,
    phase_to_shorten,
    running,
    shares,
    spread_at,
    trial_for,
)
from runtrue.stats import conformity
from runtrue.types import Finding, Limit, Measurement, Progress, Rule
from runtrue.units import PERCENT, ZERO_DEGC
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.press_calibrate import LOG_NEEDED, load_calibration
from runtrue.workflow.press_requests import PressShortenRequest
from runtrue.workflow.press_results import ONE_WAY, SAFETY, reasoned
from runtrue.workflow.press_spec import Counts, PressSpec, load_spec
from runtrue.workflow.printing import _row as finding_row

_Array = NDArray[np.float64]
_QUANTITY = "opening_mid_plane"
RULE = Rule(pass_at_least=0.95, fail_at_most=0.5)
"""A setting passes with at most 5 of 100 records too hot and fails once most are; our choice."""
_NO_LOG = "the press is not calibrated: odds of an unmeasured press would be a guess"
_NO_COUNTS = "needs the plant's own counts at two settings or more that differ in this: [[counts]] in the press file"


def shorten(request: PressShortenRequest, ports: Ports, progress: Progress) -> printed.PressShorten:
    """Weigh a shorter cycle. An uncalibrated press is no error: the result says which log it needs."""
    check_request(request)
    spec = load_spec(request.spec)
    recipe = spec.recipe
    phase = phase_to_shorten(recipe, request.phase)
    seconds = float(np.mean(recipe.phases[phase].duration))
    if request.by_s >= seconds:
        raise InputError(
            f"by_s must be below the {seconds:g} s of phase '{recipe.phases[phase].name}', got {request.by_s:g} s"
        )
    whole = sum(float(np.mean(p.duration)) for p in recipe.phases)
    if request.calibration is None:
        return _unjudged(spec, request, phase, whole)
    posterior, name = load_calibration(request.calibration, spec)
    durations = (seconds, seconds - request.by_s)
    progress("working the press at both settings", 0.1)
    draws = draws_of(posterior, spec.u95, DRAWS, np.random.default_rng(1))
    now, shorter = spread_at(recipe, durations, phase, draws)
    judge = _judge_of(spec)
    margin = request.margin_percent * PERCENT
    progress("weighing the plant's counts", 0.7)
    presses = drawn_press(posterior, PRESSES)
    places = _places(spec, presses)
    here, there = spread_at(recipe, durations, phase, presses)
    warp = _shares(places, _WARPED, here, there, margin)
    fill = _shares(places, _FILL, here, there, margin)
    findings = judge(shorter)
    outcome = _outcome(shorter, whole - request.by_s, findings)
    result = printed.PressShorten(
        verdict=conformity.verdict(findings).value,
        name=spec.name,
        file=spec.file,
        sha256=spec.digest,
        calibration=name,
        phase=recipe.phases[phase].name,
        by_s=request.by_s,
        open_below_degc=None if recipe.cool is None else round(recipe.cool - ZERO_DEGC, 2),
        gain_per_hour=_gain(whole, request.by_s)[0],
        gain_percent=_gain(whole, request.by_s)[1],
        now=_outcome(now, whole, judge(now)),
        shorter=outcome,
        warp_24h=_bad(warp, request.margin_percent),
        non_fill=_bad(fill, request.margin_percent),
        good_per_hour=_good(outcome.per_hour, warp, fill),
        passes_up_to_s=_passes_up_to(
            now, shorter, recipe.cool, lambda seconds: spread_at(recipe, (seconds,), phase, draws)[0]
        ),
        matters=_matters(recipe.with_duration(phase, durations[1]), posterior, spec),
        trial=_trial(warp, durations, recipe.phases[phase].name),
        log_needed=None,
        findings=[finding_row(one, True) for one in findings],
        not_judged=[],
        cautions=_cautions(spec, now, shorter),
        safety=list(SAFETY),
        version=runtrue.__version__,
    )
    result.not_judged.extend(reasoned(result, _reasons(recipe)))
    return result


def _unjudged(spec: PressSpec, request: PressShortenRequest, phase: int, whole: float) -> printed.PressShorten:
    recipe = spec.recipe
    seconds = float(np.mean(recipe.phases[phase].duration))
    result = printed.PressShorten(
        verdict="cannot_judge",
        name=spec.name,
        file=spec.file,
        sha256=spec.digest,
        calibration=None,
        phase=recipe.phases[phase].name,
        by_s=request.by_s,
        open_below_degc=None if recipe.cool is None else round(recipe.cool - ZERO_DEGC, 2),
        gain_per_hour=_gain(whole, request.by_s)[0],
        gain_percent=_gain(whole, request.by_s)[1],
        now=None,
        shorter=None,
        warp_24h=None,
        non_fill=None,
        good_per_hour=None,
        passes_up_to_s=None,
        matters=None,
        trial=_trial(None, (seconds, seconds - request.by_s), recipe.phases[phase].name),
        log_needed=LOG_NEEDED,
        findings=[],
        not_judged=[],
        cautions=[ONE_WAY, *spec.cautions],
        safety=list(SAFETY),
        version=runtrue.__version__,
    )
    keys = (
        "now", "shorter", "warp_24h", "non_fill", "good_per_hour", "passes_up_to_s", "matters", "calibration",
    )  # fmt: skip
    result.not_judged.extend(reasoned(result, {**_reasons(recipe), **dict.fromkeys(keys, _NO_LOG)}))
    return result


def _reasons(recipe: Recipe) -> dict[str, str]:
    return {
        "open_below_degc": "no open_below_degc in [limits]",
        "too_hot_odds": "no open_below_degc in [limits]",
        "at_flow_s": "no flow_degc in [limits]",
        "warp_24h": _NO_COUNTS,
        "non_fill": _NO_COUNTS if recipe.flow is not None else "no flow_degc in [limits]",
        "good_per_hour": "needs the shares of warp and of non-fill",
        "records_by_share": "both shares are all but alike",
        "passes_up_to_s": "no cut passes: records open too hot as it is, or no open_below_degc is given",
        "log_needed": "",
        "lower": "",
        "upper": "",
    }


def _gain(whole: float, by: float) -> tuple[float, float]:
    now, then = 3600.0 / whole, 3600.0 / (whole - by)
    return round(then - now, 2), round(100.0 * (then / now - 1.0), 2)


def _judge_of(spec: PressSpec) -> Callable[[Spread], tuple[Finding, ...]]:
    """The plant's opening temperature as a limit on a record's mid-plane."""
    limits = spec.limits
    cool = spec.recipe.cool
    bounds = [] if cool is None else [
        Limit(quantity=_QUANTITY, upper=cool, owner=limits.owner, source=limits.source, date=limits.date, rule=RULE)
    ]  # fmt: skip

    def judge(spread: Spread) -> tuple[Finding, ...]:
        middle, u95 = float(spread.mid_plane.mean()), 1.959963984540054 * float(spread.mid_plane.std(ddof=1))
        return conformity.judge([Measurement(quantity=_QUANTITY, value=middle, u95=u95)], bounds)

    return judge


def _outcome(spread: Spread, whole: float, findings: tuple[Finding, ...]) -> printed.SettingOutcome:
    inside = findings[0].conformance_probability if findings else None
    return printed.SettingOutcome(
        phase_s=round(spread.duration, 3), cycle_s=round(whole, 3), per_hour=round(3600.0 / whole, 2),
        mid_plane_degc=_range(spread.mid_plane, ZERO_DEGC), stamper_face_degc=_range(spread.stamper_face, ZERO_DEGC),
        at_flow_s=None if spread.at_flow is None else _range(spread.at_flow, 0.0, digits=2),
        too_hot_odds=None if inside is None else round(1.0 - inside, 4),
    )  # fmt: skip


def _range(values: _Array, zero: float, *, digits: int = 1) -> Range:
    low, high = np.quantile(values, [0.025, 0.975])
    return Range(
        value=round(float(values.mean()) - zero, digits), low=round(float(low) - zero, digits),
        high=round(float(high) - zero, digits),
    )  # fmt: skip


def _places(spec: PressSpec, presses: dict[str, Number]) -> list[tuple[Counts, Spread]]:
    """Each counted setting with where it stands in each press that may be."""
    found = []
    for counts in spec.counts:
        recipe = spec.recipe
        for number, phase in enumerate(recipe.phases):
            if phase.name in counts.durations:
                recipe = recipe.with_duration(number, counts.durations[phase.name])
        seconds = float(np.mean(recipe.phases[0].duration))
        found.append((counts, spread_at(recipe, (seconds,), 0, presses)[0]))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """A kind of bad record: the column of the counts, what is believed before, and where a setting stands."""

    column: str
    prior: Slope
    stands: Callable[[Spread], _Array | None]


_WARPED = _Kind(column="warped", prior=WARP, stands=lambda spread: spread.mid_plane / 10.0)
_FILL = _Kind(column="non_fill", prior=NON_FILL, stands=lambda spread: spread.at_flow)


def _shares(places: list[tuple[Counts, Spread]], kind: _Kind, now: Spread, new: Spread, margin: float) -> Shares | None:
    """Shares at both settings from the plant's own counts; None where they do not tell."""
    tallies = [
        Tally(x=x, records=counts.records, bad=bad)
        for counts, spread in places
        if (bad := getattr(counts, kind.column)) is not None and (x := kind.stands(spread)) is not None
    ]
    here, there = kind.stands(now), kind.stands(new)
    if here is None or there is None:
        return None
    return shares(tallies, kind.prior, now=here, new=there, margin=margin)


def _passes_up_to(now: Spread, shorter: Spread, cool: float | None, work: Callable[[float], Spread]) -> float | None:
    """Largest cut with at most 5 of 100 records too hot, between none and the one asked about [s].

    ``work`` gives the spread at a duration. By false position: the deviations to spare are all but straight in the cut.
    """
    if cool is None:
        return None

    def spare(spread: Spread) -> float:
        return (cool - float(spread.mid_plane.mean())) / float(spread.mid_plane.std(ddof=1)) - 1.6448536269514722

    passes, fails = (0.0, spare(now)), (now.duration - shorter.duration, spare(shorter))
    if passes[1] < 0.0:
        return None
    if fails[1] >= 0.0:
        return round(fails[0], 2)
    for _ in range(4):
        by = passes[0] + (fails[0] - passes[0]) * passes[1] / (passes[1] - fails[1])
        left = spare(work(now.duration - by))
        if left >= 0.0:
            passes = (by, left)
        else:
            fails = (by, left)
        if abs(left) < 0.02:
            break
    return floor(100.0 * by) / 100.0


def _bad(found: Shares | None, margin: float) -> printed.BadShares | None:
    if found is None:
        return None
    now, new = (
        Range(value=round(100.0 * s.value, 2), low=round(100.0 * s.low, 2), high=round(100.0 * s.high, 2))
        for s in (found.now, found.new)
    )
    return printed.BadShares(
        now_percent=now, shorter_percent=new, margin_percent=margin, more_odds=round(found.more, 4)
    )


def _good(per_hour: float, warp: Shares | None, fill: Shares | None) -> Range | None:
    if warp is None or fill is None:
        return None
    return Range(
        value=round(per_hour * (1.0 - warp.new.value) * (1.0 - fill.new.value), 1),
        low=round(per_hour * (1.0 - warp.new.high) * (1.0 - fill.new.high), 1),
        high=round(per_hour * (1.0 - warp.new.low) * (1.0 - fill.new.low), 1),
    )


def _matters(recipe: Recipe, posterior: Posterior, spec: PressSpec) -> list[printed.Matter]:
    """What the doubt at the shorter setting comes from, largest first."""
    best = {name: float(value) for name, value in zip(posterior.names, posterior.mean, strict=True)}
    cycle = {name: value for name, value in spec.u95.items() if known_input(name).each_cycle}
    half = dict(zip(posterior.names, (float(h) for h in posterior.half_width()), strict=True)) | cycle
    rows = sensitivities(varied(running(recipe), best), half, replace(ROUGH_MESH, settled=0.05))
    effect = {row.name: row.mid_plane for row in rows}
    own = np.array([effect[name] for name in posterior.names])
    found: list[tuple[list[str], float]] = [([name], effect[name] ** 2) for name in cycle]
    for group, part in bound_effects(own, posterior.covariance):
        found.append(([posterior.names[k] for k in group], part))
    whole = sum(part for _, part in found) or 1.0
    return [
        printed.Matter(
            inputs=names, words=listed([known_input(name).words for name in names]),
            of="record" if names[0] in cycle else "press", mid_plane_k=round(float(np.sqrt(part)), 2),
            share_percent=round(100.0 * part / whole, 1),
        )
        for names, part in sorted(found, key=lambda one: -one[1])
    ]  # fmt: skip


def _trial(warp: Shares | None, durations: Sequence[float], phase: str) -> printed.TrialPlan:
    plan = trial_for(warp)
    settings = [f"{phase} {seconds:g} s" for seconds in durations]
    count = plan.by_height if plan.by_share is None else plan.by_share
    words = (
        f"Press {plan.by_height} records at each setting in turns of ten, lay them flat for 24 h and measure the warp: "
        f"that shows a shift of half its own spread. To show warped records rise from {100 * plan.share_now:.1f} to "
        f"{100 * plan.share_new:.1f} in 100, count {count} at each. Then: runtrue press trial RESULTS.csv"
    )
    return printed.TrialPlan(
        settings=settings, records_by_share=plan.by_share, share_now_percent=round(100.0 * plan.share_now, 2),
        share_shorter_percent=round(100.0 * plan.share_new, 2), records_by_height=plan.by_height, words=words,
    )  # fmt: skip


def _cautions(spec: PressSpec, now: Spread, shorter: Spread) -> list[str]:
    said = [ONE_WAY, *spec.cautions]
    if spec.recipe.mould is not None:
        said.append("initial_degc of the press file is not used here: a press that runs on starts where it left off.")
    if spec.recipe.opens == len(spec.recipe.phases) - 1:
        said.append("No open phase is given: what the mould does while the press is open is left out.")
    if now.at_flow is not None and shorter.at_flow is not None and float(now.at_flow.mean()) < 0.05:
        said.append("The skin never gets above flow_degc: the groove would fill by pressing alone; check flow_degc.")
    return list(dict.fromkeys(said))
