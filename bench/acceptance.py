"""Rows of the table and the rules by which chance neither fails nor passes them.

A goal given as a share p of n trials is refused only if the count would be rarer than 1 in 100 for a program that just
reaches p; the weakest program that still passes once in 20 is printed as "passes from". A goal without a share is held
by each trial.
"""

from dataclasses import dataclass

from scipy.stats import beta, binom, chi2, poisson

CHANCE = 0.01
_WEAK = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table. ``passed`` None: not run, and ``found`` says why."""

    quantity: str
    needed: str
    found: str
    rule: str
    passed: bool | None


def line(quantity: str, needed: str, found: str, verdict: tuple[bool | None, str]) -> Row:
    """A row from a rule's verdict."""
    return Row(quantity=quantity, needed=needed, found=found, passed=verdict[0], rule=verdict[1])


def at_least(count: int, n: int, share: float) -> tuple[bool, str]:
    """Whether ``count`` of ``n`` is as many as a program with success rate ``share`` shows 99 times in 100."""
    if n == 0:
        return False, "no trial"
    least = int(binom.ppf(CHANCE, n, share))
    return count >= least, f"{least} or more of {n}; passes from {100.0 * _weakest(least, n):.1f} %"


def _weakest(least: int, n: int) -> float:
    """Success rate that still shows ``least`` or more of ``n`` once in 20."""
    return float(beta.ppf(_WEAK, least, n - least + 1)) if least > 0 else 0.0


def between(count: int, n: int, share: float) -> tuple[bool, str]:
    """Whether ``count`` of ``n`` lies in the middle 99 % of a binomial of ``share``."""
    low, high = int(binom.ppf(CHANCE / 2.0, n, share)), int(binom.ppf(1.0 - CHANCE / 2.0, n, share))
    return low <= count <= high, f"{low} to {high} of {n}"


def each(count: int, n: int) -> tuple[bool, str]:
    """Whether every trial held."""
    if n == 0:
        return False, "no trial"
    return count == n, f"all {n}; passes from {100.0 * _WEAK ** (1.0 / n):.1f} %"


def rarer(count: int, exposure: float, unit: str) -> tuple[bool, str]:
    """Whether ``count`` events in ``exposure`` units are fewer than one a unit."""
    most = int(poisson.ppf(_WEAK, exposure))
    return count <= most, f"{most} or fewer in {exposure:.0f} {unit}: 1 a {unit} would show it 1 time in 20"


def ratio_below(ratio: float, freedom: int, goal: float) -> tuple[bool, str]:
    """Whether ``ratio`` = radius over rms of ``freedom`` squares does not refute ``goal``."""
    most = goal * (freedom / float(chi2.ppf(CHANCE, freedom))) ** 0.5
    return ratio < most, f"below {most:.2f}: {goal} and the chance of an rms of {freedom} values (1 in 100)"
