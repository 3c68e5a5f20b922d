"""Bar codes as rectangles of a drawing, never a scaled bitmap. Code 128 (ISO/IEC 15417), written by zxing-cpp."""

from functools import lru_cache

from runtrue.paper.drawing import Rect, Shape, Text
from runtrue.paper.tokens import Role

QUIET = 10
"""Free modules on either side."""


@lru_cache(maxsize=512)
def _bars(content: str) -> tuple[tuple[int, int], ...]:
    """(first module, modules) of each bar, from the first bar on."""
    import numpy as np
    import zxingcpp

    made = zxingcpp.create_barcode(content, zxingcpp.BarcodeFormat.Code128)
    row = np.array(zxingcpp.write_barcode_to_image(made, scale=1, add_quiet_zones=False))
    dark = row[row.shape[0] // 2] < 128
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.astype(np.int8), [0]])))
    return tuple((int(a), int(b - a)) for a, b in zip(edges[::2], edges[1::2], strict=True))


def modules(content: str) -> int:
    """Width of a code with its quiet zones, in modules."""
    last = _bars(content)[-1]
    return last[0] + last[1] + 2 * QUIET


def code128(content: str, *, x: float, y: float, wide: float, high: float, size: float) -> list[Shape]:
    """Return the bars from (x, y) on, quiet zones within ``wide``, and the content in ``size`` under them."""
    module = wide / modules(content)
    left = x + QUIET * module
    bars: list[Shape] = [
        Rect(x=left + first * module, y=y, width=many * module, height=high, fill=Role.INK)
        for first, many in _bars(content)
    ]
    return [*bars, Text(x=x + wide / 2.0, y=y + high + 0.95 * size, text=content, size=size, anchor="middle")]
