"""Limits files into frozen limits in SI units: the shipped standards by name, a house file by path."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from runtrue.errors import InputError, unknown_name
from runtrue.limits import shipped, text
from runtrue.quantities import Quantity, quantity_by_key
from runtrue.types import Limit, Rule
from runtrue.workflow.toml_file import Day, Strict, load_toml, parse_toml

PROGRAMME = "programme"
"""The level reference of an uncalibrated rig: rms of the reference as played."""
LEVELS = frozenset({"surface", "surface_quasi_peak", "rumble", "hum"})
"""Quantities whose 0 dB must be named; the other dB are ratios of two things on the same disc."""
LEAST_PROMINENCE = 12.0
"""Ticks below this prominence are not listed [dB], so none can be limited."""
_OFFSET, _SWING = "off_centre_offset", "off_centre_swing"


class _Rule(Strict):
    pass_: Annotated[float, Field(alias="pass", ge=0.0, le=1.0)] = 0.95
    fail: Annotated[float, Field(ge=0.0, le=1.0)] = 0.05


class _Limit(Strict):
    quantity: str
    lower: float | None = None
    upper: float | None = None
    meaning: Literal["offset", "swing"] | None = None
    level_reference: str | None = None
    source: Annotated[str, Field(min_length=1)]
    owner: str | None = None
    date: Day | None = None
    rule: _Rule = _Rule()


class _Head(Strict):
    name: Annotated[str, Field(min_length=1)]
    owner: Annotated[str, Field(min_length=1)]
    date: Day


class _File(Strict):
    file: _Head
    limit: list[_Limit]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedLimit:
    """A limit, and what its 0 dB is where it bounds a level."""

    limit: Limit
    level_reference: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSet:
    """The limits of one file. ``name`` is the file's own name for them, ``label`` how the person chose it."""

    label: str
    name: str
    owner: str
    date: str
    limits: tuple[StatedLimit, ...]


def standard_limits(name: str) -> LimitSet:
    """Return shipped limits by name (``iec``); raises ``UnknownNameError`` with the list."""
    known = shipped()
    if name not in known:
        raise unknown_name("standard", name, known)
    return _limit_set(parse_toml(text(name), _File, f"limits {name}"), f"limits {name}", name)


def load_limits(path: Path) -> LimitSet:
    """Read a limits file; raises ``InputError`` with file, place and what is allowed."""
    return _limit_set(load_toml(path, _File, "limits file"), f"limits file {path}", path.name)


def parse_limits(content: str, where: str) -> LimitSet:
    """Read the text of a limits file; ``where`` begins every message."""
    return _limit_set(parse_toml(content, _File, where), where, where)


def _limit_set(file: _File, where: str, label: str) -> LimitSet:
    limits: list[StatedLimit] = []
    for number, stated in enumerate(file.limit, 1):
        place = f"{where}: [limit] number {number}"
        try:
            limit = _limit(stated, file.file)
        except InputError as error:
            raise InputError(f"{place}: {error}") from None
        if any(limit.quantity == other.limit.quantity for other in limits):
            raise InputError(f"{place}: {stated.quantity} is bounded twice; keep one")
        limits.append(StatedLimit(limit=limit, level_reference=_reference(stated, limit.quantity, place)))
    head = file.file
    return LimitSet(label=label, name=head.name, owner=head.owner, date=head.date, limits=tuple(limits))


def _limit(stated: _Limit, head: _Head) -> Limit:
    """One limit in SI. A bound on swing becomes one on the offset, half as large; its meaning says so."""
    quantity = quantity_by_key(stated.quantity)
    meaning = stated.meaning or ""
    scale = 1.0
    name = quantity.id
    if quantity.id in (_OFFSET, _SWING):
        meaning = meaning or ("swing" if quantity.id == _SWING else "offset")
        scale = 0.5 if meaning == "swing" else 1.0
        name = _OFFSET
        if stated.lower is not None:
            raise InputError(f"{stated.quantity}: an off-centre limit has no lower bound; remove it")
        if stated.upper is not None and stated.upper < 0.0:
            raise InputError(f"{stated.quantity}: upper must be 0 or more, got {stated.upper:g}; correct it")
    elif quantity.id == "tick_prominence" and stated.upper is not None and stated.upper < LEAST_PROMINENCE:
        raise InputError(
            f"{stated.quantity}: upper must be {LEAST_PROMINENCE:g} dB or more, for lesser ticks are not listed, got "
            f"{stated.upper:g} dB; correct it"
        )
    elif meaning:
        raise InputError(f"{stated.quantity}: meaning is for off-centre limits only; remove it")
    return Limit(
        quantity=name,
        lower=_bound(stated.lower, quantity, scale),
        upper=_bound(stated.upper, quantity, scale),
        meaning=meaning,
        owner=stated.owner or head.owner,
        source=stated.source,
        date=stated.date or head.date,
        rule=Rule(pass_at_least=stated.rule.pass_, fail_at_most=stated.rule.fail),
    )


def _bound(shown: float | None, quantity: Quantity, scale: float) -> float | None:
    return None if shown is None else scale * quantity.to_si(shown)


def _reference(stated: _Limit, quantity: str, place: str) -> str | None:
    """What 0 dB is; a level's limit that does not say is re programme."""
    if quantity in LEVELS:
        return stated.level_reference or PROGRAMME
    if stated.level_reference is not None:
        levels = ", ".join(sorted(LEVELS))
        raise InputError(f"{place}: level_reference is for levels only ({levels}); remove it from {stated.quantity}")
    return None
