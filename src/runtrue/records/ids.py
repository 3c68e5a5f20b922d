"""Names for entries that nobody else gives: 128 bits, ordered by time (UUID version 7, RFC 9562, 5.7)."""

import os
import threading
import time
from uuid import UUID

_lock = threading.Lock()
_last = 0


def new_id(after: UUID | None = None) -> UUID:
    """A fresh id, above ``after``; those of one process grow strictly, also within a millisecond and when the clock
    is set back.

    Examples
    --------
    >>> a, b = new_id(), new_id()
    >>> a < b, a.version
    (True, 7)
    """
    global _last  # noqa: PLW0603 - the counter of a process
    with _lock:
        stamp = max(time.time_ns() // 1_000_000 << 12, _last + 1, 0 if after is None else _stamp(after) + 1)
        _last = stamp
    milliseconds, count = stamp >> 12, stamp & 0xFFF
    random = int.from_bytes(os.urandom(8), "big") >> 2
    return UUID(int=milliseconds << 80 | 0x7 << 76 | count << 64 | 0b10 << 62 | random)


def _stamp(one: UUID) -> int:
    """Milliseconds and count of an id."""
    return one.int >> 80 << 12 | one.int >> 64 & 0xFFF
