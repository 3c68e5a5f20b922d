r"""Between normal, tightened and reduced inspection: switching rules as a small state machine, and the scheme's OC.

``after_lot(state, ...)`` returns the next state; nothing is remembered elsewhere: a state can be stored and replayed.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.checks import within
from runtrue.stats.sampling.plans import Severity


class Rules(StrEnum):
    """Which standard's switching rules are followed."""

    MIL_STD_105E = "MIL-STD-105E"
    ISO_2859_1_1999 = "ISO 2859-1:1999"


@dataclass(frozen=True, slots=True, kw_only=True)
class Switching:
    """Where inspection stands.

    ``recent`` are the last four outcomes on normal inspection (True accepted), ``accepted_in_a_row`` counts on the
    present severity, ``tightened_lots`` and ``tightened_refusals`` count since tightened inspection began, ``score`` is
    the switching score of ISO 2859-1:1999. ``stopped``: inspection is discontinued until the maker has acted.
    """

    rules: Rules = Rules.MIL_STD_105E
    severity: Severity = Severity.NORMAL
    recent: tuple[bool, ...] = ()
    accepted_in_a_row: int = 0
    tightened_lots: int = 0
    tightened_refusals: int = 0
    score: int = 0
    stopped: bool = False
    reason: str = ""


def after_lot(
    state: Switching,
    *,
    accepted: bool,
    accept: int = 0,
    found: int | None = None,
    tighter_accepted: bool | None = None,
    may_reduce: bool = False,
    irregular: bool = False,
) -> Switching:
    """Return the state after one lot on first submission.

    Parameters
    ----------
    state : Switching
        Before the lot
    accepted : bool
        The lot was accepted
    accept : int
        Acceptance number of the plan that was used (ISO score; gap of MIL-STD-105E)
    found : int, optional
        Faults found; on reduced inspection a count above ``accept`` returns to normal even where the lot is accepted
    tighter_accepted : bool, optional
        The lot would also have passed the plan one AQL step tighter (ISO score, where ``accept`` is 2 or more)
    may_reduce : bool
        Production is steady, the responsible authority agrees and, under MIL-STD-105E, the faults of the last ten lots
        do not exceed the limit number of its Table VIII (which is not held here: the person reads it)
    irregular : bool
        Production became irregular or delayed, which ends reduced inspection

    Returns
    -------
    state : Switching
        After the lot, with the reason of a change

    Notes
    -----
    Raises ``InputError`` when inspection is stopped; begin again with a new tightened state.

    Examples
    --------
    >>> state = Switching()
    >>> for outcome in (True, False, True, False):
    ...     state = after_lot(state, accepted=outcome)
    >>> str(state.severity), state.reason
    ('tightened', '2 of 5 or fewer lots refused')

    References
    ----------
    .. [1] MIL-STD-105E, 4.7 (2 of 5; 5 in a row; last 10 lots; discontinued after 10 lots on tightened); ISO
       2859-1:1999, 9.3 (switching score 30; 5 refusals on tightened). From memory; the two rules between normal and
       tightened read in a sister standard.
    """
    if state.stopped:
        raise InputError("inspection is stopped: act on the cause, then begin again on tightened inspection")
    if state.severity is Severity.NORMAL:
        return _after_normal(
            state, accepted=accepted, accept=accept, tighter_accepted=tighter_accepted, may_reduce=may_reduce
        )
    if state.severity is Severity.TIGHTENED:
        return _after_tightened(state, accepted=accepted)
    in_gap = found is not None and found > accept
    if not accepted or in_gap or irregular:
        reason = "lot refused" if not accepted else "count between Ac and Re" if in_gap else "production irregular"
        return Switching(rules=state.rules, severity=Severity.NORMAL, reason=reason)
    return replace(state, accepted_in_a_row=state.accepted_in_a_row + 1, reason="")


def scheme_acceptance(normal: ArrayLike, tightened: ArrayLike) -> NDArray[np.float64]:
    r"""Long-run probability of acceptance under switching between normal and tightened inspection.

    .. math:: P = \frac{a P_N + b P_T}{a + b}, \quad a = \frac{2 - P_N^4}{(1 - P_N)(1 - P_N^4)},
              \quad b = \frac{1 - P_T^5}{(1 - P_T) P_T^5}

    a and b are the mean stays on normal (until 2 of 5 are refused) and on tightened (until 5 in a row are accepted).

    Parameters
    ----------
    normal, tightened : array_like
        Probability of acceptance under each plan, 0 to 1 [-]

    Returns
    -------
    probability : ndarray
        [-]

    Examples
    --------
    >>> float(scheme_acceptance(0.7461, 0.4432))
    0.4691

    References
    ----------
    .. [1] Stephens and Larson, J. Quality Technology 1 (1967), two-state chain; example recomputed.
    """
    pn, pt = np.asarray(normal, dtype=np.float64), np.asarray(tightened, dtype=np.float64)
    within("normal", pn, 0.0, 1.0)
    within("tightened", pt, 0.0, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        a = (2.0 - pn**4) / ((1.0 - pn) * (1.0 - pn**4))
        b = (1.0 - pt**5) / ((1.0 - pt) * pt**5)
        mixed = (a * pn + b * pt) / (a + b)
    return np.where(pn >= 1.0, 1.0, np.where(pt <= 0.0, 0.0, np.where(pt >= 1.0, _to_one(pn, pt), mixed)))


def _to_one(pn: NDArray[np.float64], pt: NDArray[np.float64]) -> NDArray[np.float64]:
    """Limit for a tightened plan that always accepts: the stay there is exactly five lots."""
    with np.errstate(divide="ignore", invalid="ignore"):
        a = (2.0 - pn**4) / ((1.0 - pn) * (1.0 - pn**4))
        return (a * pn + 5.0 * pt) / (a + 5.0)


def _after_normal(
    state: Switching, *, accepted: bool, accept: int, tighter_accepted: bool | None, may_reduce: bool
) -> Switching:
    outcomes = (*state.recent, accepted)[-5:]
    if outcomes.count(False) >= 2:
        return Switching(rules=state.rules, severity=Severity.TIGHTENED, reason="2 of 5 or fewer lots refused")
    in_a_row = state.accepted_in_a_row + 1 if accepted else 0
    score = state.score
    if state.rules is Rules.ISO_2859_1_1999:
        if accept >= 2:
            if accepted and tighter_accepted is None:
                raise InputError("the switching score needs tighter_accepted where the plan accepts 2 or more")
            score = score + 3 if accepted and tighter_accepted else 0
        else:
            score = score + 2 if accepted else 0
        earned, why = score >= 30, "switching score reached 30"
    else:
        earned, why = in_a_row >= 10, "last 10 lots accepted"
    if earned and may_reduce:
        return Switching(rules=state.rules, severity=Severity.REDUCED, reason=why)
    return replace(state, recent=outcomes[-4:], accepted_in_a_row=in_a_row, score=score, reason="")


def _after_tightened(state: Switching, *, accepted: bool) -> Switching:
    in_a_row = state.accepted_in_a_row + 1 if accepted else 0
    if in_a_row >= 5:
        return Switching(rules=state.rules, severity=Severity.NORMAL, reason="5 lots in a row accepted")
    lots = state.tightened_lots + 1
    refusals = state.tightened_refusals + (not accepted)
    after = replace(state, accepted_in_a_row=in_a_row, tightened_lots=lots, tightened_refusals=refusals, reason="")
    if state.rules is Rules.ISO_2859_1_1999 and refusals >= 5:
        return replace(after, stopped=True, reason="5 lots refused on tightened inspection")
    if state.rules is Rules.MIL_STD_105E and lots >= 10:
        return replace(after, stopped=True, reason="10 lots in a row on tightened inspection")
    return after
