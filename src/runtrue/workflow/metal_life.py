"""How long stampers last and where one is heading: retirements and measured copies (CSV) into lives and trends."""

from collections import Counter
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from scipy.special import stdtrit

import runtrue
from runtrue.contract import life as printed
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.stamper.life import (
    HORIZON,
    Retirement,
    StamperLife,
    Stop,
    StopRule,
    crossing,
    lives,
    stop,
    stop_by_trend,
    surely_beyond,
)
from runtrue.stats.reliability.life import Life
from runtrue.stats.reliability.trend import Trend
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.metal_requests import StamperLifeRequest, StamperTrendRequest
from runtrue.workflow.metal_safety import SAFETY
from runtrue.workflow.table_file import load_table

_MOST = 100_000
_EVERY = 100
_MONEY = ("change_cost", "bad_copy_cost")


def life(request: StamperLifeRequest, ports: Ports, progress: Progress) -> printed.LifeResult:
    """Fit the lives; raises ``InputError`` for a table that is not usable. Too few ends are no error."""
    check_request(request)
    rule = _rule(request)
    if request.now is not None and rule is None:
        raise InputError("now: what a change costs is not known; give change_cost and bad_copy_cost")
    if rule is not None and request.now is None:
        raise InputError("change_cost: which stamper it is weighed for is not known; give now, its impressions")
    retired = _retirements(request.retirements)
    found = lives(retired) if any(one.worn for one in retired) else None
    law = None if found is None else found.law
    halted = None if law is None or rule is None or request.now is None else stop(law, request.now, rule)
    return printed.LifeResult(
        stampers=len(retired),
        worn_out=sum(one.worn for one in retired),
        taken_off_sound=sum(not one.worn for one in retired),
        reasons=dict(Counter(one.reason or ("worn" if one.worn else "sound") for one in retired).most_common()),
        survival=[] if found is None else _steps(found),
        law=None if law is None else _law(law),
        stop=None if halted is None or rule is None or request.now is None else _stop(halted, rule, request.now),
        not_judged=list(_life_not_judged(found, rule, halted)),
        cautions=_life_cautions(retired, law),
        safety=list(SAFETY),
        input=_input(request.retirements, len(retired)),
        settings=_settings(request, request.now),
        version=runtrue.__version__,
    )


def _retirements(path: Path) -> list[Retirement]:
    rows = load_table(
        path, "retirements", needed=("stamper", "impressions", "worn"),
        known=("stamper", "impressions", "worn", "reason"), most=_MOST,
    )  # fmt: skip
    found = [
        Retirement(
            stamper=row.needed("stamper"), impressions=row.whole("impressions", 1, 1_000_000),
            worn=row.word("worn", ("yes", "no")) == "yes", reason=row.text("reason"),
        )
        for row in rows
    ]  # fmt: skip
    twice = [name for name, many in Counter(one.stamper for one in found).items() if many > 1]
    if twice:
        raise InputError(f"retirements {path}: stamper {twice[0]} is taken off twice; keep the last")
    return found


def _rule(request: StamperLifeRequest | StamperTrendRequest) -> StopRule | None:
    given = [name for name in _MONEY if getattr(request, name) is not None]
    if len(given) == 1:
        other = next(name for name in _MONEY if name not in given)
        raise InputError(f"{given[0]}: a change is weighed against bad copies; give {other} too")
    if request.change_cost is None or request.bad_copy_cost is None:
        if request.check_every is not None:
            raise InputError("check_every: there is no stop rule without costs; give change_cost and bad_copy_cost")
        return None
    return StopRule(
        change_cost=request.change_cost, bad_copy_cost=request.bad_copy_cost,
        between_checks=request.check_every or _EVERY,
    )  # fmt: skip


def _steps(found: StamperLife) -> list[printed.SurvivalStep]:
    s = found.survival
    columns = zip(s.time, s.at_risk, s.ended, s.share, s.lower, s.upper, strict=True)
    return [
        printed.SurvivalStep(
            impressions=int(time), on_press=int(risk), worn_out=int(ended), share_good=round(float(share), 5),
            low=round(float(low), 5), high=round(float(high), 5),
        )
        for time, risk, ended, share, low, high in columns
    ]  # fmt: skip


def _law(law: Life) -> printed.Law:
    shape_low, shape_high = law.shape_limits()
    tenth, half = law.life_limits(0.1), law.life_limits(0.5)
    return printed.Law(
        shape=round(law.shape, 4), shape_low=round(shape_low, 4), shape_high=round(shape_high, 4),
        scale_impressions=round(law.scale, 1), mean_impressions=round(law.mean, 1),
        tenth_worn_impressions=round(law.life_at(0.1), 1), tenth_worn_low=round(tenth[0], 1),
        tenth_worn_high=round(tenth[1], 1), half_worn_impressions=round(law.life_at(0.5), 1),
        half_worn_low=round(half[0], 1), half_worn_high=round(half[1], 1),
    )  # fmt: skip


def _stop(found: Stop, rule: StopRule, now: int) -> printed.StopNow:
    return printed.StopNow(
        impressions=now, change=found.change, bad_copies=round(found.bad_copies, 3),
        bad_copies_that_weigh_a_change=round(rule.change_cost / rule.bad_copy_cost, 3), change_at=found.change_at,
        looked_to=now + HORIZON,
    )  # fmt: skip


def _life_not_judged(found: StamperLife | None, rule: StopRule | None, halted: Stop | None) -> list[NotJudged]:
    said = []
    no_law = "no stamper was worn out: nothing has ended" if found is None else found.reason
    if no_law:
        said.append(NotJudged(key="law", reason=no_law))
    if halted is None:
        said.append(NotJudged(key="stop", reason=no_law if rule is not None else "no costs were given"))
    elif halted.change_at is None:
        said.append(NotJudged(key="stop.change_at", reason=f"a change does not pay within {HORIZON} impressions"))
    return said


def _life_cautions(retired: list[Retirement], law: Life | None) -> list[str]:
    said = []
    worn = sum(one.worn for one in retired)
    if law is not None and worn < 10:
        said.append(f"{worn} stampers were worn out: the law is known roughly, as its limits say.")
    if law is not None and law.shape < 1.0:
        said.append("The shape is below 1: stampers fail early more than they wear; look at handling and set-up.")
    if worn == len(retired):
        said.append(
            "Every stamper is called worn: those taken off sound belong here too, or lives look shorter than they are."
        )
    return said


def _input(path: Path, lines: int) -> printed.TableInput:
    return printed.TableInput(file=path.name, sha256=sha256(path.read_bytes()).hexdigest(), lines=lines)


def _settings(request: StamperLifeRequest | StamperTrendRequest, now: int | None) -> printed.LifeSettings:
    every = request.check_every or (_EVERY if request.change_cost is not None else None)
    return printed.LifeSettings(
        now=now, change_cost=request.change_cost, bad_copy_cost=request.bad_copy_cost, check_every=every
    )


_QUANTITIES = (
    ("noise_db", "surface noise", "dB", 1.0),
    ("treble_db", "treble", "dB", -1.0),
    ("ticks", "ticks a side", "", 1.0),
)
"""Column, words, unit, and the way in which a copy becomes bad."""


def trend(request: StamperTrendRequest, ports: Ports, progress: Progress) -> printed.TrendResult:
    """Lay a line through every quantity of every stamper; too few values or no trend are no error."""
    check_request(request)
    rule = _rule(request)
    columns = tuple(name for name, *_ in _QUANTITIES)
    rows = load_table(
        request.measured, "measured copies", needed=("stamper", "impressions"),
        known=("stamper", "impressions", *columns), most=_MOST,
    )  # fmt: skip
    if not any(name in rows[0].values for name in columns):
        raise InputError(f"measured copies {request.measured}: holds none of {', '.join(columns)}; add one")
    by_stamper: dict[str, list[tuple[int, dict[str, float | None]]]] = {}
    for row in rows:
        values = {
            "noise_db": row.number_or_none("noise_db", low=-150.0, high=50.0, unit="dB"),
            "treble_db": row.number_or_none("treble_db", low=-150.0, high=50.0, unit="dB"),
            "ticks": row.number_or_none("ticks", low=0.0, high=100_000.0),
        }
        by_stamper.setdefault(row.needed("stamper"), []).append((row.whole("impressions", 0, 1_000_000), values))
    trends: list[printed.TrendRow] = []
    unseen: list[NotJudged] = []
    for stamper, measured in by_stamper.items():
        for name, words, unit, bad in _QUANTITIES:
            pairs = sorted((n, v) for n, given in measured if (v := given[name]) is not None)
            key = f"trends.{stamper}.{name}"
            if not pairs:
                continue
            if len({n for n, _ in pairs}) < 3:
                unseen.append(NotJudged(key=key, reason="fewer than three counts of impressions: measure more copies"))
                continue
            asked = _Asked(stamper=stamper, name=name, words=words, unit=unit, bad=bad, key=key)
            row_made, why = _trend(asked, pairs, getattr(request, f"limit_{name}"), rule)
            trends.append(row_made)
            unseen += why
    return printed.TrendResult(
        trends=trends,
        not_judged=unseen,
        cautions=_trend_cautions(trends),
        safety=list(SAFETY),
        input=_input(request.measured, len(rows)),
        settings=_settings(request, None),
        version=runtrue.__version__,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """One quantity of one stamper; ``bad`` is +1 where a copy becomes bad upward, -1 downward."""

    stamper: str
    name: str
    words: str
    unit: str
    bad: float
    key: str


def _trend(
    asked: _Asked, pairs: list[tuple[int, float]], limit: float | None, rule: StopRule | None
) -> tuple[printed.TrendRow, list[NotJudged]]:
    """One line with what it says, and the reasons for what it does not say."""
    counts, values = [float(n) for n, _ in pairs], [v for _, v in pairs]
    found = crossing(asked.name, counts, values, values[-1] if limit is None else limit)
    line = found.trend
    last = int(counts[-1])
    why = _no_crossing(asked, line, limit)
    over = limit is not None and surely_beyond(line, limit, last, asked.bad)
    heading = not why
    halted = None if rule is None or limit is None or not heading else stop_by_trend(line, limit, last, rule)
    row = printed.TrendRow(
        stamper=asked.stamper, quantity=asked.name, words=asked.words, unit=asked.unit, values=len(pairs),
        last_impressions=last, last_value=values[-1], per_hundred=round(100.0 * line.slope, 5),
        per_hundred_u95=round(100.0 * float(stdtrit(line.dof, 0.975)) * line.slope_u, 5), limit=limit,
        crosses_at=found.at if heading else None, crosses_low=found.between[0] if heading else None,
        crosses_high=found.between[1] if heading else None, safe_to=found.safe_to if heading else None,
        beyond_already=over,
        stop=None if halted is None or rule is None else _stop(halted, rule, last),
    )  # fmt: skip
    nulls = [NotJudged(key=f"{asked.key}.{part}", reason=why) for part in _CROSSES if why]
    if limit is None:
        nulls.append(NotJudged(key=f"{asked.key}.limit", reason="no limit was given"))
    if halted is None:
        nulls.append(NotJudged(key=f"{asked.key}.stop", reason=why or "no costs were given"))
    elif halted.change_at is None:
        reason = f"a change does not pay within {HORIZON} impressions"
        nulls.append(NotJudged(key=f"{asked.key}.stop.change_at", reason=reason))
    return row, nulls


_CROSSES = ("crosses_at", "crosses_low", "crosses_high", "safe_to")


def _no_crossing(asked: _Asked, line: Trend, limit: float | None) -> str:
    """Why no crossing is named; empty where one is."""
    if limit is None:
        return "no limit was given"
    if not line.bounded:
        return line.reason
    if asked.bad * line.slope < 0.0:
        return "it runs away from its limit"
    if line.crossing is not None and line.crossing < 0.0:
        return "it was beyond the limit from the first copy"
    return ""


def _trend_cautions(trends: list[printed.TrendRow]) -> list[str]:
    said = ["A straight line is carried on beyond the last copy: that is a forecast and no reading."] if trends else []
    if any(row.quantity == "ticks" for row in trends):
        said.append("Ticks are counts and scatter more as they grow: their interval holds roughly.")
    return said
