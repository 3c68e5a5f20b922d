"""The house's rules for one judgement, loaded once: limits in force and the bench that played the record."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.errors import InputError
from runtrue.workflow.limits import LimitSet, load_limits, standard_limits
from runtrue.workflow.rig import Rig, load_rig

DEFAULT_LIMITS = "iec"
"""Whose limits are in force when nobody says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """Limits and rig; ``rig`` is None when nothing is stated about the bench."""

    limits: LimitSet
    rig: Rig | None = None


def load_house(*, limits: Path | None = None, standard: str | None = None, rig: Path | None = None) -> House:
    """Load what the person named; raises ``InputError`` with file, place and what is allowed."""
    if limits is not None and standard is not None:
        raise InputError(
            "limits and standard: give a limits file or the name of a standard, not both; a file takes the standard's "
            "place"
        )
    return House(
        limits=load_limits(limits) if limits is not None else standard_limits(standard or DEFAULT_LIMITS),
        rig=load_rig(rig) if rig is not None else None,
    )
