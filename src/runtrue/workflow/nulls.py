"""Every null of a result with its reason."""

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from runtrue.contract.listening import NotJudged

_NOT_RESULTS = ("settings", "input", "not_judged", "findings")


def not_judged(result: Any, reasons: Mapping[str, str], default: str = "not stated") -> list[NotJudged]:
    """Dotted keys of what is None, each once, with the reason of that key or ``default``; list places are left out.

    What was asked (``settings``, ``input``) is no result; ``findings`` carry their own words.
    """
    return [NotJudged(key=key, reason=reasons.get(key) or default) for key in dict.fromkeys(_nulls(result, ""))]


def _nulls(value: Any, key: str) -> Iterator[str]:
    if value is None:
        yield key
    elif isinstance(value, list | tuple):
        for one in value:
            yield from _nulls(one, key)
    elif is_dataclass(value):
        for item in fields(value):
            if key or item.name not in _NOT_RESULTS:
                yield from _nulls(getattr(value, item.name), f"{key}.{item.name}" if key else item.name)
