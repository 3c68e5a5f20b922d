"""Every null of a result with its reason."""

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from runtrue.contract.listening import NotJudged

_PLAIN = frozenset({str, int, float, bool})
_NAMES: dict[type, tuple[str, ...]] = {}
_NOT_RESULTS = ("settings", "input", "not_judged", "findings")


def not_judged(
    result: Any, reasons: Mapping[str, str], default: str = "not stated", *, leave: tuple[str, ...] = ()
) -> list[NotJudged]:
    """Dotted keys of what is None, each once, with the reason of that key or ``default``; list places are left out.

    What was asked (``settings``, ``input``) is no result; ``findings`` and what is to ``leave`` carry their own words.
    """
    out = (*_NOT_RESULTS, *leave)
    keys: dict[str, None] = {}
    for name in _names(type(result)):
        if name not in out:
            keys.update(dict.fromkeys(_nulls(getattr(result, name), name)))
    return [NotJudged(key=key, reason=reasons.get(key) or default) for key in keys]


def _nulls(value: Any, key: str) -> Iterator[str]:
    """Keys of what is None in a value: itself, or below it in lists and dataclasses."""
    if value is None:
        yield key
    elif isinstance(value, list | tuple):
        for one in value:
            if type(one) not in _PLAIN:
                yield from _nulls(one, key)
    elif is_dataclass(value):
        for name in _names(type(value)):
            inner = getattr(value, name)
            if type(inner) not in _PLAIN:
                yield from _nulls(inner, f"{key}.{name}")


def _names(kind: type) -> tuple[str, ...]:
    """Names of the fields, looked up once."""
    if kind not in _NAMES:
        _NAMES[kind] = tuple(item.name for item in fields(kind))
    return _NAMES[kind]
