"""What keeps the pages to this computer and to its own person: host, policy, size, and forms that are ours."""

import hmac
from collections.abc import Awaitable, Callable
from hashlib import sha256
from typing import Annotated

from fastapi import Depends, Form, Header, HTTPException, Request
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import Message, Receive, Scope, Send

Served = Callable[[Scope, Receive, Send], Awaitable[None]]

HOSTS = frozenset({"127.0.0.1", "localhost", "[::1]"})
"""Names under which this computer may be asked; another one is a page elsewhere that had its name point here."""
MOST_BYTES = 3 << 30
"""Largest recording taken in: a side of 25 minutes at 192 kHz, stereo, 32 bit, is 2.3 GB."""
MOST_FORM = 1 << 20
"""Largest body of any other form."""
UPLOADS = frozenset({"/recordings"})
"""Where recordings are taken in."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; "
    "media-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), interest-cohort=()",
}
SESSION = "runtrue"
"""Cookie that a form's token belongs to."""


class Guard:
    """Wraps the application: asks that are not for this computer, or too large, go no further."""

    def __init__(self, app: Served) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check what is asked, then add the headers to what is answered."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = _refused(scope, headers)
        if refused is not None:
            await _with_headers(refused)(scope, receive, send)
            return
        most = MOST_BYTES if scope["path"] in UPLOADS else MOST_FORM
        await self.app(scope, _counted(receive, most), _headed(send))


def _refused(scope: Scope, headers: Headers) -> PlainTextResponse | None:
    host = headers.get("host", "")
    name = host[: host.rfind(":")] if host.rfind(":") > host.rfind("]") else host
    if name not in HOSTS:
        return PlainTextResponse("These pages are for this computer alone: open http://127.0.0.1.", 421)
    if scope["method"] in ("GET", "HEAD"):
        return None
    origin = headers.get("origin")
    if origin is not None and origin != f"http://{host}":
        return PlainTextResponse("A form of another page is not taken.", 403)
    length = headers.get("content-length", "0")
    most = MOST_BYTES if scope["path"] in UPLOADS else MOST_FORM
    if not length.isascii() or not length.isdigit() or int(length) > most:
        return PlainTextResponse(f"At most {most >> 20} MB are taken.", 413)
    return None


def _with_headers(response: PlainTextResponse) -> PlainTextResponse:
    for name, value in HEADERS.items():
        response.headers[name] = value
    return response


def _counted(receive: Receive, most: int) -> Receive:
    """What comes in, cut off once it is more than ``most``: a length may be left out or wrong."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            raise HTTPException(413, f"At most {most >> 20} MB are taken.")
        return message

    return counted


def _headed(send: Send) -> Send:
    async def headed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return headed


def token_of(secret: bytes, session: str) -> str:
    """The token that forms of a session carry."""
    return hmac.new(secret, session.encode(), sha256).hexdigest()


def _own(
    request: Request,
    token: Annotated[str, Form()] = "",
    x_token: Annotated[str, Header()] = "",
) -> None:
    session = request.cookies.get(SESSION, "")
    wanted = token_of(request.app.state.desk.secret, session)
    given = (token or x_token).encode("utf-8", "replace")
    if not session or not hmac.compare_digest(given, wanted.encode()):
        raise HTTPException(403, "This form is from before the program was started again: open its page anew and send.")


own_form = Depends(_own)
"""Takes only forms that a page of this program gave out."""
