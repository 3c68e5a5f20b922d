"""How much of the spread of centrings is people and lens: a study of the same stampers, by several, several times."""

from collections.abc import Callable
from hashlib import sha256
from math import sqrt
from pathlib import Path
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

import runtrue
from runtrue.contract import study as printed
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.stamper.centre import Centre, locate
from runtrue.stamper.readings import Groove
from runtrue.stamper.study import CentringStudy, centring_study, pooled_deviation
from runtrue.stats.gauge import GaugeStudy
from runtrue.types import Progress
from runtrue.units import UM
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.metal_requests import StamperStudyRequest
from runtrue.workflow.metal_safety import SAFETY
from runtrue.workflow.readings_file import readings_of
from runtrue.workflow.table_file import Row, load_table

_WHO = ("operator", "stamper", "repeat")
_READ = ("angle_deg", "reading_um", "turn", "set")
_FOUND = ("x_um", "y_um")
_MOST = 100_000
_Key = tuple[str, str, int]


def study(request: StamperStudyRequest, ports: Ports, progress: Progress) -> printed.CentringStudyResult:
    """Judge the study. Raises ``InputError`` for a table that is not whole or a set that gives no centre."""
    check_request(request)
    where = f"study {request.study}"
    rows = load_table(request.study, "study", needed=_WHO, known=(*_WHO, *_READ, *_FOUND), most=_MOST)
    sets: dict[_Key, list[Row]] = {}
    for row in rows:
        key = (row.needed("operator"), row.needed("stamper"), row.whole("repeat", 1, 1000))
        sets.setdefault(key, []).append(row)
    names = rows[0].values
    found, noise = (_offsets if "x_um" in names else _centres)(request, sets, where, progress)
    people, stampers, repeats = _whole(sets, where)
    grid = np.array([[[found[p, s, r] for r in repeats] for s in stampers] for p in people])
    made = centring_study(grid)
    limit = request.limit_offset_um
    return printed.CentringStudyResult(
        x=_axis(made, made.x),
        y=_axis(made, made.y),
        operators=[
            printed.OperatorStudy(
                operator=name, bias_x_um=_um(made.bias[k, 0]), bias_y_um=_um(made.bias[k, 1]),
                scatter_um=_um(made.scatter[k]),
            )
            for k, name in enumerate(people)
        ],
        one_centring_u95_um=_um(made.circle),
        lens_noise_um=None if noise is None else _um(noise[0]),
        lens_noise_spare=None if noise is None else noise[1],
        limit_offset_um=limit,
        share_of_limit_percent=None if limit is None else round(100.0 * made.circle / (limit * UM), 2),
        not_judged=_not_judged(noise is None, limit is None),
        cautions=_cautions(made, len(people), len(stampers), len(repeats)),
        safety=list(SAFETY),
        input=printed.StudyInput(
            file=request.study.name, sha256=_digest(request.study), operators=len(people), stampers=len(stampers),
            repeats=len(repeats),
        ),
        version=runtrue.__version__,
    )  # fmt: skip


_Found = tuple[dict[_Key, tuple[float, float]], tuple[float, int] | None]
_Finder = Callable[[StamperStudyRequest, dict[_Key, list[Row]], str, Progress], _Found]


def _offsets(_request: StamperStudyRequest, sets: dict[_Key, list[Row]], where: str, _progress: Progress) -> _Found:
    """Offsets as they were found; nothing tells the scatter of a reading."""
    for key, rows in sets.items():
        if len(rows) > 1:
            raise InputError(f"{rows[1].where}: {_set_words(key)} stands there twice; keep one")
        if any(rows[0].text(name) for name in _READ):
            raise InputError(f"{where}: holds readings and offsets; keep one kind of columns")
    limit = 1e6
    return {
        key: (
            rows[0].number("x_um", low=-limit, high=limit, unit="μm") * UM,
            rows[0].number("y_um", low=-limit, high=limit, unit="μm") * UM,
        )
        for key, rows in sets.items()
    }, None


def _centres(request: StamperStudyRequest, sets: dict[_Key, list[Row]], where: str, progress: Progress) -> _Found:
    """The centre of every set of readings, and the scatter of a reading over all sets."""
    found: dict[_Key, tuple[float, float]] = {}
    deviations, freedom = [], []
    pitch = None if request.pitch_um is None else request.pitch_um * UM
    for done, (key, rows) in enumerate(sets.items()):
        progress("centring", done / len(sets))
        for name in ("angle_deg", "reading_um"):
            if name not in rows[0].values:
                raise InputError(
                    f"{where}: column '{name}' is missing; give angle_deg and reading_um, or x_um and y_um: add them"
                )
        groove = Groove(request.groove)
        readings = readings_of(rows, groove, f"{where}, {_set_words(key)}")[0]
        centre = locate(readings, groove=groove, pitch=pitch)
        if not isinstance(centre, Centre):
            raise InputError(f"{where}, {_set_words(key)}: {centre.reason}")
        found[key] = (centre.offset.x, centre.offset.y)
        deviations.append(centre.deviation)
        freedom.append(centre.fitted.dof)
    return found, (pooled_deviation(deviations, freedom), int(sum(freedom)))


def _whole(sets: dict[_Key, list[Row]], where: str) -> tuple[list[str], list[str], list[int]]:
    """Everybody, every stamper, every repeat, in the order of the file; raises where one set is missing."""
    people = list(dict.fromkeys(key[0] for key in sets))
    stampers = list(dict.fromkeys(key[1] for key in sets))
    repeats = sorted({key[2] for key in sets})
    for what, names in (("operators", people), ("stampers", stampers), ("repeats", repeats)):
        if len(names) < 2:
            raise InputError(f"{where}: {len(names)} of {what}; a study needs two or more: add them")
    for key in ((p, s, r) for p in people for s in stampers for r in repeats):
        if key not in sets:
            raise InputError(
                f"{where}: {_set_words(key)} is missing; everybody centres every stamper equally often: add it, or "
                "leave that stamper or repeat out"
            )
    return people, stampers, repeats


def _set_words(key: _Key) -> str:
    return f"operator {key[0]}, stamper {key[1]}, repeat {key[2]}"


def _axis(made: CentringStudy, axis: GaugeStudy) -> printed.AxisStudy:
    low, high = made.repeatability_limits(axis)
    return printed.AxisStudy(
        repeatability_um=_um(axis.repeatability), repeatability_low_um=_um(low), repeatability_high_um=_um(high),
        reproducibility_um=_um(axis.reproducibility), gauge_um=_um(axis.gauge), stampers_um=_um(axis.part),
        total_um=_um(axis.total), percent=round(axis.percent, 3), categories=axis.categories,
        word=cast(Any, axis.word), pooled=axis.pooled,
    )  # fmt: skip


def _um(value: float | NDArray[np.float64]) -> float:
    return round(float(value) / UM, 4)


def _digest(path: Path) -> str:
    return sha256(path.read_bytes()).hexdigest()


def _not_judged(no_noise: bool, no_limit: bool) -> list[NotJudged]:
    found = []
    if no_noise:
        reason = "the file holds offsets and no readings"
        found += [NotJudged(key=key, reason=reason) for key in ("lens_noise_um", "lens_noise_spare")]
    if no_limit:
        reason = "no limit was given"
        found += [NotJudged(key=key, reason=reason) for key in ("limit_offset_um", "share_of_limit_percent")]
    return found


def _cautions(made: CentringStudy, people: int, stampers: int, repeats: int) -> list[str]:
    said = []
    if people < 3 or stampers < 5:
        said.append(
            "Fewer than three people or five stampers: how people differ is known only roughly (common practice: three "
            "people, ten stampers, two or three times)."
        )
    spread = max(made.x.part, made.y.part)
    if spread < 2.0 * max(made.x.gauge, made.y.gauge):
        said.append(
            "The stampers hardly differ: percent and categories say little; look at the circle of one centring."
        )
    worst = float(np.max(np.hypot(made.bias[:, 0], made.bias[:, 1])))
    one = max(made.x.repeatability, made.y.repeatability)
    if worst > 3.0 * one / sqrt(stampers * repeats):
        said.append(f"One person's mean lies {worst / UM:.0f} μm from that of all: let them look through one lens.")
    return said
