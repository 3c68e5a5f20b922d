"""What a number of a fault is: its unit and the range the maker can make, read by the check and by the parser.

A field is written ``offset: Annotated[float, Q("m", 0, 0.05)] = 0.0``; :func:`check` holds the value to the range when
the fault is made, :mod:`runtrue.forward.parse` takes the allowed suffixes of its key from the same words.
"""

from dataclasses import dataclass, fields
from math import inf, isfinite
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from runtrue.errors import InputError

SHOWN: dict[str, dict[str, float]] = {
    "m": {"_mm": 1e-3, "_um": 1e-6, "_m": 1.0},
    "rad": {"_deg": 0.017453292519943295, "_rad": 1.0},
    "s": {"_s": 1.0, "_ms": 1e-3, "_us": 1e-6},
    "Hz": {"_hz": 1.0, "_khz": 1e3},
    "1": {"_percent": 1e-2, "_ppm": 1e-6},
    "m/s": {"_m_per_s": 1.0, "_cm_per_s": 1e-2},
    "dB": {"": 1.0},
    "": {"": 1.0},
}
"""SI unit to the key suffixes that may carry it, with their factor. dB and bare counts have the unit in their name."""


@dataclass(frozen=True, slots=True)
class Q:
    """A quantity: SI unit and the range that is allowed, ends included."""

    unit: str = ""
    lower: float = -inf
    upper: float = inf


Metres = Annotated[float, Q("m")]
Angle = Annotated[float, Q("rad")]
Seconds = Annotated[float, Q("s")]
PositiveSeconds = Annotated[float, Q("s", 0.0)]
Hertz = Annotated[float, Q("Hz", 0.0)]
Fraction = Annotated[float, Q("1")]
Decibel = Annotated[float, Q("dB", -200.0, 60.0)]


_KNOWN: dict[type[Any], dict[str, Q]] = {}


def quantities(kind: type[Any]) -> dict[str, Q]:
    """Field name to quantity for every field of a fault that carries one, also behind ``| None``."""
    if kind in _KNOWN:
        return _KNOWN[kind]
    found = _KNOWN.setdefault(kind, {})
    for name, hint in get_type_hints(kind, include_extras=True).items():
        for part in (hint, *get_args(hint)):
            if get_origin(part) is Annotated:
                found[name] = next(q for q in part.__metadata__ if isinstance(q, Q))
    return found


def check(fault: Any) -> None:
    """Hold every number of a fault to its range; call it from ``__post_init__``.

    Raises ``InputError`` that names the fault, the field, the value in SI and what is allowed.
    """
    kind = type(fault)
    known = quantities(kind)
    for field in fields(fault):
        q = known.get(field.name)
        value = getattr(fault, field.name)
        if q is None or value is None:
            continue
        unit = f" {q.unit}" if q.unit not in {"", "1"} else ""
        if not isinstance(value, int | float) or isinstance(value, bool) or not isfinite(value):
            raise InputError(f"{kind.__name__}.{field.name} must be a finite number{unit}, got {value!r}")
        if not q.lower <= value <= q.upper:
            raise InputError(
                f"{kind.__name__}.{field.name} must be from {q.lower:g} to {q.upper:g}{unit}, got {value:g}{unit}: "
                "state it inside that range"
            )
