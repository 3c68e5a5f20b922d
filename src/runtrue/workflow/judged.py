"""Judged recordings of one run with what the press log knows of their discs, and the copies of each side compared."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from runtrue.contract.copies import Base, Copies
from runtrue.contract.listening import Listening, Traces
from runtrue.workflow.copies import compared
from runtrue.workflow.copies_centre import with_other
from runtrue.workflow.copies_file import Listed
from runtrue.workflow.copies_judged import heard_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One judged recording of a copy: ``copy`` is its name in running text ("copy 5").

    ``batch`` of compound; ``note`` tells two playings of one side apart ("pushed away"). ``washed`` before it was
    played, None where not stated.
    """

    copy: str
    side: str
    closure: int | None = None
    stamper: str = ""
    mother: str = ""
    father: str = ""
    press: str = ""
    pile: str = ""
    batch: str = ""
    note: str = ""
    washed: bool | None = None
    listening: Listening
    traces: Traces
    waveforms: NDArray[np.float16] | None = field(default=None, compare=False, repr=False)


def standing(judged: Sequence[Judged]) -> list[Judged]:
    """The recordings by which copies are judged: what was washed and played again is judged by that."""
    washed = {(one.copy, one.side) for one in judged if one.washed}
    return [one for one in judged if one.washed or (one.copy, one.side) not in washed]


def sides_of(judged: Sequence[Judged]) -> dict[str, Copies]:
    """The copies of each side laid over one another."""
    sides = {
        side: _compared([one for one in judged if one.side == side]) for side in sorted({one.side for one in judged})
    }
    if len(sides) != 2:
        return sides
    (a, one), (b, other) = sides.items()
    return {a: with_other(one, other), b: with_other(other, one)}


def _compared(rows: Sequence[Judged]) -> Copies:
    reference = next((one.listening.reference for one in rows if one.listening.reference is not None), None)
    return compared(
        [_listed(one) for one in rows],
        [heard_of(one.listening, one.traces, one.waveforms) for one in rows],
        format=rows[0].listening.settings.format,
        reference=Base(
            file=None if reference is None else reference.file,
            sha256=None if reference is None else reference.sha256,
            copies=[],
        ),
    )


def _listed(one: Judged) -> Listed:
    known = {
        "stamper": one.stamper, "mother": one.mother, "father": one.father, "press": one.press, "pile": one.pile,
        "compound": one.batch,
    }  # fmt: skip
    return Listed(
        where=f"{one.copy}, side {one.side}",
        file=Path(one.listening.input.file),
        copy=one.copy,
        closure=one.closure,
        factors={name: value for name, value in known.items() if value},
        push=one.note.removeprefix("pushed ") if one.note.startswith("pushed ") else "",
        washed=one.washed,
    )
