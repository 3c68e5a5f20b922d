"""Copies in running text, and whether a recording is out of a limit: what every page over copies shares."""

from collections.abc import Iterable

from runtrue.contract.listening import Listening
from runtrue.paper.words import listed, quantity_of

ON_TICKS = ("tick_prominence", "loud_ticks_per_side", "ticks_per_side", "audible_ticks_per_side")
"""Quantities that ticks put out of limit."""


def names(copies: Iterable[str]) -> str:
    """Several copies in running text, each once: "copies 3, 5 and 7".

    Examples
    --------
    >>> names(["copy 3", "copy 5", "copy 3"]), names(["copy 3"]), names(["side-a", "side-b"])
    ('copies 3 and 5', 'copy 3', 'side-a and side-b')
    """
    found = list(dict.fromkeys(copies))
    if len(found) > 1 and all(one.startswith("copy ") for one in found):
        return f"copies {listed([one.removeprefix('copy ') for one in found])}"
    return listed(found)


def out_of_limit(listening: Listening, *quantities: str) -> bool:
    """Whether a finding of a recording on one of these quantities is out of limit."""
    return any(
        row.verdict == "fail" and row.in_verdict and (q := quantity_of(row)) is not None and q.id in quantities
        for row in listening.findings
    )
