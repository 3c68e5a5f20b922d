"""Bad input by name and allowed range: the checks that every calculation of this room shares."""

from collections.abc import Sequence
from math import inf

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError


def within(
    name: str, value: ArrayLike, low: float = -inf, high: float = inf, *, above: bool = False, below: bool = False
) -> None:
    """Raise ``InputError`` unless every value lies from low to high; ``above`` and ``below`` exclude the ends.

    Examples
    --------
    >>> within("p", 1.5, 0.0, 1.0)
    Traceback (most recent call last):
    runtrue.errors.InputError: p must be from 0 to 1, got 1.5
    """
    array = np.asarray(value, dtype=np.float64)
    good = (array > low if above else array >= low) & (array < high if below else array <= high) & np.isfinite(array)
    if not np.all(good):
        bad = array[~good].flat[0] if array.ndim else float(array)
        raise InputError(f"{name} must be {_words(low, high, above=above, below=below)}, got {bad:g}")


def whole(name: str, value: int, low: float = -inf, high: float = inf) -> None:
    """Raise ``InputError`` unless the value is a whole number from low to high.

    Examples
    --------
    >>> whole("n", 2.5, 1)
    Traceback (most recent call last):
    runtrue.errors.InputError: n must be a whole number, 1 or more, got 2.5
    """
    if value != int(value) or not low <= value <= high:
        words = _words(low, high) if low > -inf or high < inf else ""
        raise InputError(f"{name} must be a whole number{', ' if words else ''}{words}, got {value:g}")


def vector(name: str, values: ArrayLike, *, least: int = 1) -> NDArray[np.float64]:
    """Return the values as a one-dimensional array of finite numbers with at least ``least`` of them.

    Examples
    --------
    >>> vector("times", [1, 2, 3]).size
    3
    """
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or array.size < least:
        raise InputError(f"{name} must be a list of at least {least} numbers, got {array.size} in shape {array.shape}")
    if not np.all(np.isfinite(array)):
        raise InputError(
            f"{name} must hold finite numbers only; number {int(np.argmin(np.isfinite(array))) + 1} is not"
        )
    return array


def counts(name: str, values: ArrayLike, *, least: int = 1) -> NDArray[np.int64]:
    """Return the values as whole numbers of 0 or more.

    Examples
    --------
    >>> int(counts("faults", [0, 3]).sum())
    3
    """
    array = vector(name, values, least=least)
    if np.any(array < 0) or np.any(array != np.floor(array)):
        raise InputError(f"{name} must be whole numbers of 0 or more")
    return array.astype(np.int64)


def same_length(**arrays: Sequence[float] | NDArray[np.float64] | NDArray[np.int64]) -> None:
    """Raise ``InputError`` unless all named arrays have one length.

    Examples
    --------
    >>> same_length(times=[1, 2], events=[1, 0])
    """
    lengths = {name: len(array) for name, array in arrays.items()}
    if len(set(lengths.values())) > 1:
        said = ", ".join(f"{name} {length}" for name, length in lengths.items())
        raise InputError(f"these must have one length: {said}")


def _words(low: float, high: float, *, above: bool = False, below: bool = False) -> str:
    if low > -inf and high < inf:
        if above or below:
            joint = "and below" if below else "and up to"
            return f"{'above' if above else 'from'} {low:g} {joint} {high:g}"
        return f"from {low:g} to {high:g}"
    if low > -inf:
        return f"above {low:g}" if above else f"{low:g} or more"
    if high < inf:
        return f"below {high:g}" if below else f"{high:g} or less"
    return "a number"
