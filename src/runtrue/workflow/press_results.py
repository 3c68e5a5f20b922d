"""What all results of the press share: cautions that stand on each, and every null with its reason."""

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from runtrue.contract.listening import NotJudged

SAFETY = (
    "Steam: moulds, hoses and traps are under pressure and scald; drain before water, never water into a hot "
    "steam-filled mould except by the maker's sequence.",
    "Press: guard or two-hand control in place; blocked and locked out before anyone reaches into the daylight.",
    "Hot compound and plates burn: gloves, sleeves, tongs.",
    "Hot vinyl gives off hydrogen chloride when it stands too long: extraction on; a black or fuming biscuit means "
    "leave, cool, ventilate.",
    "Local codes, the maker's manual and licensed people decide; no figure here is a safe setting.",
)
ONE_WAY = "Heat is worked out across the layers only: uneven channels over the face cannot be seen here."


def nulls(value: Any, name: str = "") -> Iterator[str]:
    """Dotted key of every null of a result."""
    if value is None:
        yield name
    elif is_dataclass(value):
        for item in fields(value):
            yield from nulls(getattr(value, item.name), f"{name}.{item.name}" if name else item.name)
    elif isinstance(value, list):
        for place, one in enumerate(value):
            if is_dataclass(one):
                yield from nulls(one, f"{name}[{place}]")


def reasoned(result: Any, reasons: Mapping[str, str]) -> list[NotJudged]:
    """Every null of a result with its reason, found by its whole key or by its last part; "" leaves it out."""
    found = []
    for key in nulls(result):
        reason = reasons.get(key, reasons.get(key.rpartition(".")[2], "not given"))
        if reason:
            found.append(NotJudged(key=key, reason=reason))
    return found
