"""How a context becomes a page, and the same as JSON."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.encoders import jsonable_encoder
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, JSONResponse, Response

import runtrue
from runtrue.web.guard import SESSION, token_of
from runtrue.workflow.actions import Ports

HERE = Path(__file__).parent
STATIC = HERE / "static"

PLACES = (
    ("/", "Start"),
    ("/floor", "Floor"),
    ("/metal", "Metal"),
    ("/compound", "Compound"),
    ("/press", "Press"),
    ("/recordings", "Recordings"),
    ("/copies", "Copies"),
)
"""What the top line leads to, in the order of the job."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """What the pages work with: the ports to the one book that is served, and the secret of its forms."""

    ports: Ports
    secret: bytes
    plant: str


def desk_of(request: Request) -> Desk:
    """The desk of the application."""
    found = request.app.state.desk
    assert isinstance(found, Desk)
    return found


At = Annotated[Desk, Depends(desk_of)]

_TEMPLATES = Environment(
    loader=FileSystemLoader(HERE / "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
    lstrip_blocks=True,
)  # fmt: skip


def whole(text: str) -> Markup:
    """Text in which names with a hyphen ("A-M1-S1") stay on one line."""
    return Markup(" ").join(
        Markup('<span class="whole">{}</span>').format(word) if "-" in word else word for word in text.split(" ")
    )


_TEMPLATES.filters["whole"] = whole


def rendered(request: Request, template: str, page: Any, *, status: int = 200) -> Response:
    """A page, or its context as JSON for who accepts that before HTML."""
    if wants_json(request):
        return JSONResponse(jsonable_encoder(page), status)
    desk = desk_of(request)
    session = request.cookies.get(SESSION) or secrets.token_urlsafe(24)
    token = token_of(desk.secret, session)
    html = _TEMPLATES.get_template(template).render(
        page=page, places=PLACES, here=request.url.path, plant=desk.plant, who=desk.ports.who, token_text=token,
        version=runtrue.__version__, token=lambda: Markup(f'<input type="hidden" name="token" value="{token}">'),
    )  # fmt: skip
    response = HTMLResponse(html, status)
    if SESSION not in request.cookies:
        response.set_cookie(SESSION, session, httponly=True, samesite="strict", path="/")
    return response


def wants_json(request: Request) -> bool:
    """Whether JSON is asked for and HTML is not."""
    accepted = request.headers.get("accept", "")
    return request.url.path.endswith(".json") or ("application/json" in accepted and "text/html" not in accepted)


def page(router: APIRouter, path: str, template: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Serve what a function returns as a page at ``path`` and as JSON at ``path.json`` ("/" at /index.json)."""

    def register(function: Callable[..., Any]) -> Callable[..., Any]:
        name = function.__name__

        def html(request: Request, context: Annotated[Any, Depends(function)]) -> Response:
            return rendered(request, template, context)

        json = "/index.json" if path == "/" else f"{path}.json"
        router.add_api_route(json, function, methods=["GET"], name=f"{name}_json", summary=f"{name} as JSON")
        router.add_api_route(
            path, html, methods=["GET"], name=name, response_class=HTMLResponse, summary=function.__doc__ or name
        )
        return function

    return register
