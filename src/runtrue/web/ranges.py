"""Parts of what lies in memory, as a browser's player asks for them."""

import re

from fastapi import Request
from starlette.responses import Response

_ASKED = re.compile(r"bytes=(\d*)-(\d*)")


def ranged(request: Request, body: bytes, kind: str) -> Response:
    """The whole of ``body``, or the one range that is asked for (RFC 9110, section 14)."""
    headers = {"accept-ranges": "bytes", "cache-control": "private, max-age=600"}
    asked = _ASKED.fullmatch(request.headers.get("range", "").strip())
    if asked is None or asked.groups() == ("", ""):
        return Response(body, media_type=kind, headers=headers)
    first, last = (int(part) if part else None for part in asked.groups())
    if first is None:
        low, high = max(len(body) - (last or 0), 0), len(body) - 1
    else:
        low, high = first, min(len(body) - 1 if last is None else last, len(body) - 1)
    if low > high:
        return Response(status_code=416, headers={**headers, "content-range": f"bytes */{len(body)}"})
    headers["content-range"] = f"bytes {low}-{high}/{len(body)}"
    return Response(body[low : high + 1], 206, media_type=kind, headers=headers)
