"""People's marks on ticks refit what counts as heard, and say how well ears and program agree."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

import runtrue
from runtrue.contract.heard import Ears, RefitHearing
from runtrue.contract.listening import Listening
from runtrue.errors import InputError
from runtrue.listen.audible import fit_hearing, probability
from runtrue.listen.setting import Hearing
from runtrue.stats.agreement import cohen
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.heard_request import ListenMarksRequest
from runtrue.workflow.result_file import load_listening
from runtrue.workflow.table_file import Row, load_table

NEEDED = ("result", "programme_s", "mark")
MARKS = ("heard", "not_heard", "objectionable")
MOST = 20_000
WITHIN_S = 0.3
"""A mark belongs to the nearest tick so near: as well as a hand can place it. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mark:
    tick: tuple[str, float]
    margin: float
    heard: bool
    listener: str


def refit(request: ListenMarksRequest, ports: Ports, progress: Progress) -> RefitHearing:
    """Refit the threshold. Raises ``InputError`` for marks that fit no tick, too few, or on results of other levels."""
    check_request(request)
    rows = load_table(request.marks, "marks", needed=NEEDED, known=(*NEEDED, "listener"), most=MOST)
    results = {name: load_listening(request.marks.parent / name) for name in {row.needed("result") for row in rows}}
    levels = {result.settings.listening_level_spl_db for result in results.values()}
    if len(levels) > 1:
        raise InputError(f"marks {request.marks}: the results were made at different listening levels; part them")
    level = levels.pop()
    found = [_mark(row, results) for row in rows]
    marks = [mark for mark in found if mark is not None]
    if len(marks) < 10:
        raise InputError(
            f"marks {request.marks}: {len(marks)} of {len(rows)} lie within {WITHIN_S:g} s of a listed tick; 10 or "
            "more are needed: check programme_s, or mark more"
        )
    fit = fit_hearing([m.margin for m in marks], [m.heard for m in marks], level=level)
    names = sorted({mark.listener for mark in marks})
    return RefitHearing(
        marks=len(marks), heard=fit.heard, objectionable=sum(row.text("mark") == "objectionable" for row in rows),
        left_out=len(rows) - len(marks), listening_level_spl_db=level,
        shift_db=round(fit.hearing.shift, 3), shift_u95_db=round(fit.shift_u95, 3),
        spread_db=round(fit.hearing.spread, 3),
        before=_beside("all, before", marks, Hearing(level=level)), after=_beside("all, after", marks, fit.hearing),
        listeners=[_beside(name, [m for m in marks if m.listener == name], fit.hearing) for name in names],
        between=_between(marks, names), cautions=_cautions(marks, len(rows), fit.shift_u95),
        version=runtrue.__version__,
    )  # fmt: skip


def _mark(row: Row, results: dict[str, Listening]) -> _Mark | None:
    """The mark with the tick it lies on; None where there is none."""
    name, time = row.needed("result"), row.number("programme_s", low=-60.0, unit="s")
    heard = row.word("mark", MARKS) != "not_heard"
    judged = [t for t in results[name].ticks or [] if t.audible_margin_db is not None]
    near = min(judged, key=lambda tick: abs(tick.programme_s - time), default=None)
    if near is None or near.audible_margin_db is None or abs(near.programme_s - time) > WITHIN_S:
        return None
    return _Mark(
        tick=(name, near.programme_s), margin=near.audible_margin_db, heard=heard,
        listener=row.text("listener", "listener"),
    )  # fmt: skip


def _beside(name: str, marks: Sequence[_Mark], hearing: Hearing) -> Ears:
    said = probability([m.margin for m in marks], hearing) >= 0.5
    return _ears(name, [m.heard for m in marks], said.tolist())


def _between(marks: Sequence[_Mark], names: Sequence[str]) -> list[Ears]:
    by = {name: {m.tick: m.heard for m in marks if m.listener == name} for name in names}
    pairs = []
    for one, other in combinations(names, 2):
        both = sorted(set(by[one]) & set(by[other]))
        if both:
            pairs.append(_ears(f"{one}, {other}", [by[one][t] for t in both], [by[other][t] for t in both]))
    return pairs


def _ears(name: str, first: Sequence[bool], second: Sequence[bool]) -> Ears:
    table = np.zeros((2, 2))
    np.add.at(table, (np.asarray(first, dtype=int), np.asarray(second, dtype=int)), 1.0)
    same = bool(table.sum(axis=0).max() == len(first) and table.sum(axis=1).max() == len(first))
    return Ears(
        listener=name, marks=len(first), heard=int(sum(first)),
        alike_percent=round(100.0 * float(np.trace(table)) / len(first), 2),
        kappa=None if same else round(cohen(table).kappa, 4),
    )  # fmt: skip


def _cautions(marks: Sequence[_Mark], rows: int, u95: float) -> list[str]:
    found = []
    if len(marks) < rows:
        found.append(f"Marks that lie on no listed tick were left out: {rows - len(marks)}.")
    if u95 > 1.0:
        found.append(f"The threshold is known to {u95:.1f} dB only; some 200 marks bring it within 1 dB.")
    if len({m.heard for m in marks}) == 1:
        found.append("Every mark says the same: mark ticks that are heard and ticks that are not.")
    return found
