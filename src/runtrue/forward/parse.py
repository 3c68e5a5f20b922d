"""From a table of faults (TOML, JSON) to a Play, in shown units, with an error that helps for every slip.

A key is the field's name with the unit behind it: ``offset_um``, ``direction_deg``, ``speed_percent``,
``programme_time_s``. Beside those ``disc.rpm`` may stand for the turn frequency, and an arm is given by ``angle_deg``
or by ``length_mm`` with ``overhang_mm`` or ``pivot_distance_mm``.
"""

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from types import UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from runtrue.errors import InputError
from runtrue.forward.faults import Disc, Play
from runtrue.forward.geometry import LeaningArm, PivotedArm
from runtrue.forward.quantity import SHOWN, Q, quantities
from runtrue.units import rpm_to_hz

T = TypeVar("T")

LISTS: dict[str, tuple[str, tuple[float, ...], int]] = {
    # field: key, factor of each column, columns (0 = a plain list of numbers)
    "landmarks": ("landmarks_s_mm", (1.0, 1e-3), 2),
    "points": ("points_hz_db", (1.0, 1.0), 2),
    "time_constants": ("time_constants_us", (1e-6,), 0),
    "cut_with": ("cut_with_us", (1e-6,), 0),
    "played_with": ("played_with_us", (1e-6,), 0),
    "harmonics_db": ("harmonics_db", (1.0,), 0),
}
"""Fields that hold lists of numbers: their units stand in the key, in the order of the columns."""


def play_from_table(table: Mapping[str, Any], where: str = "faults") -> Play:
    """Return the Play that a table describes: ``disc``, and if wanted ``player``, ``placing``, ``recorder``.

    ``where`` names the file in messages. Raises ``InputError`` for a key that is unknown, a value of the wrong kind or
    one out of range, naming place, key, value and what is allowed.

    >>> play = play_from_table({"disc": {"rpm": 45, "start_radius_mm": 84, "offset_um": 70, "direction_deg": 20},
    ...                         "player": {"arm": {"length_mm": 230, "overhang_mm": 16.5}}})
    >>> round(play.disc.offset * 1e6), play.disc.turn_frequency
    (70, 0.75)
    """
    return _build(Play, table, where)


def _build(kind: type[T], table: Any, where: str) -> T:
    """Return a fault of ``kind`` from its table."""
    if not isinstance(table, Mapping):
        raise InputError(f"{where} must be a table of keys and values, got {table!r}")
    left = dict(table)
    made: dict[str, Any] = {}
    if kind is Disc and "rpm" in left:
        made["turn_frequency"] = rpm_to_hz(_number(left.pop("rpm"), f"{where}.rpm"))
    hints, known = get_type_hints(kind), quantities(kind)
    allowed: list[str] = ["rpm"] if kind is Disc else []
    for field in fields(kind):  # type: ignore[arg-type]
        name = field.name
        keys = _keys(name, known.get(name))
        allowed += keys
        given = [key for key in keys if key in left]
        if len(given) > 1 or (given and name in made):
            raise InputError(f"{where} gives {name} twice ({', '.join(given)}): keep one")
        if given:
            key = given[0]
            made[name] = _value(hints[name], known.get(name), left.pop(key), key=key, where=f"{where}.{key}")
        elif name not in made and field.default is MISSING and field.default_factory is MISSING:
            raise InputError(f"{where} lacks {' or '.join(keys)}: give it a value")
    if left:
        key = next(iter(left))
        raise InputError(f"{where} has the unknown key '{key}'; known are {', '.join(allowed)}: correct or remove it")
    try:
        return kind(**made)
    except InputError as reason:
        raise InputError(f"{where}: {reason}") from None


def _keys(name: str, q: Q | None) -> list[str]:
    if name in LISTS:
        return [LISTS[name][0]]
    if q is None:
        return [name]
    return [name + suffix for suffix in SHOWN[q.unit]]


def _value(hint: Any, q: Q | None, value: Any, *, key: str, where: str) -> Any:
    """Return one field's value in SI, from what stands behind its key."""
    for list_key, factors, columns in LISTS.values():
        if key == list_key:
            return _list(value, factors, columns, where)
    if q is None:
        return _chosen(hint, value, where)
    number = _number(value, where)
    if int in _plain(hint):
        if number != int(number):
            raise InputError(f"{where} must be a whole number, got {value!r}")
        return int(number)
    suffix = max((s for s in SHOWN[q.unit] if s and key.endswith(s)), key=len, default="")
    return number * SHOWN[q.unit][suffix]


def _chosen(hint: Any, value: Any, where: str) -> Any:
    """Return a word, an arm, a fault or a list of faults."""
    part = _plain(hint)[0]
    if part in (LeaningArm, PivotedArm):
        return _arm(value, where)
    if is_dataclass(part):
        return _build(part, value, where)  # type: ignore[arg-type]
    if get_origin(part) is tuple:
        if not isinstance(value, list | tuple):
            raise InputError(f"{where} must be a list of tables, got {value!r}")
        return tuple(_build(get_args(part)[0], item, f"{where}[{i}]") for i, item in enumerate(value, start=1))
    words = get_args(part) if get_origin(part) is Literal else None
    if not isinstance(value, str) or (words is not None and value not in words):
        raise InputError(
            f"{where} must be {'a word' if words is None else 'one of ' + ', '.join(words)}, got {value!r}"
        )
    return value


def _plain(hint: Any) -> list[Any]:
    """Return the kinds a hint allows, without None and without annotations."""
    if get_origin(hint) in (Union, UnionType):
        return [plain for part in get_args(hint) if part is not type(None) for plain in _plain(part)]
    return _plain(get_args(hint)[0]) if get_origin(hint) is Annotated else [hint]


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"{where} must be a number, got {value!r}")
    return float(value)


def _list(value: Any, factors: tuple[float, ...], columns: int, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise InputError(f"{where} must be a list, got {value!r}")
    if columns == 0:
        return tuple(_number(v, where) * factors[0] for v in value)
    for row in value:
        if not isinstance(row, list | tuple) or len(row) != columns:
            raise InputError(f"{where} must be a list of {columns} numbers each, got {row!r}")
    return tuple(tuple(_number(v, where) * k for v, k in zip(row, factors, strict=True)) for row in value)


def _arm(value: Any, where: str) -> LeaningArm | PivotedArm:
    """Return an arm from an angle, or from a length and where its pivot stands."""
    known = ("angle_deg", "length_mm", "overhang_mm", "pivot_distance_mm")
    if not isinstance(value, Mapping) or not set(value) <= set(known):
        raise InputError(f"{where} must be a table with {', '.join(known)}, got {value!r}")
    n = {key: _number(v, f"{where}.{key}") for key, v in value.items()}
    match sorted(n):
        case ["angle_deg"]:
            return LeaningArm(angle=n["angle_deg"] * SHOWN["rad"]["_deg"])
        case ["length_mm", "overhang_mm"]:
            return PivotedArm.from_overhang(n["length_mm"] * 1e-3, n["overhang_mm"] * 1e-3)
        case ["length_mm", "pivot_distance_mm"]:
            return PivotedArm(length=n["length_mm"] * 1e-3, pivot_distance=n["pivot_distance_mm"] * 1e-3)
        case _:
            raise InputError(
                f"{where} needs angle_deg alone, or length_mm with overhang_mm or pivot_distance_mm, "
                f"got {', '.join(sorted(n)) or 'nothing'}"
            )
