"""The application: routes, files that do not change, and one way to say what was wrong."""

import secrets
from http import HTTPStatus

from fastapi import APIRouter, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

import runtrue
from runtrue.errors import InputError, MissingFileError, RuntrueError, SurroundingsError, UnknownNameError
from runtrue.web import compound, copies, find, floor, metal, press, recordings, start
from runtrue.web.guard import Guard
from runtrue.web.page import STATIC, Desk, rendered
from runtrue.workflow.actions import Ports
from runtrue.workflow.pages.fonts import FONTS
from runtrue.workflow.pages.trouble import Trouble, trouble_of

ROUTERS: tuple[APIRouter, ...] = (
    start.router, recordings.router, copies.router, floor.router, find.router, metal.router, compound.router,
    press.router,
)  # fmt: skip
"""The routes of every page, those with fixed paths before those that take any name."""


def make_app(ports: Ports) -> FastAPI:
    """The pages of the book that the ports lead to."""
    app = FastAPI(
        title="runtrue", version=runtrue.__version__, docs_url=None, redoc_url=None, openapi_url="/openapi.json",
        description="Pages of a pressing plant's book, on this computer alone. Every page is JSON too.",
    )  # fmt: skip
    app.state.desk = Desk(ports=ports, secret=secrets.token_bytes(32), plant=ports.open_book(None).plant)
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.mount("/fonts", StaticFiles(directory=FONTS), name="fonts")
    app.add_middleware(Guard)
    app.add_exception_handler(RuntrueError, _foreseen)
    app.add_exception_handler(HTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(Exception, _unforeseen)
    return app


def _foreseen(request: Request, error: Exception) -> Response:
    if isinstance(error, MissingFileError | UnknownNameError):
        return _told(request, 404, str(error))
    if isinstance(error, InputError):
        return _told(request, 422, str(error))
    return _told(request, 503 if isinstance(error, SurroundingsError) else 500, str(error))


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    said = error.detail if error.detail != HTTPStatus(error.status_code).phrase else _PLAIN.get(error.status_code, "")
    return _told(request, error.status_code, said or error.detail)


_PLAIN = {
    404: "There is no page here: check the address, or start from the top line.",
    405: "This address takes no such form.",
}


def _not_valid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    place = ".".join(str(part) for part in first["loc"][1:])
    return _told(request, 422, f"{place or 'the form'}: {first['msg']}; check what was entered")


def _unforeseen(request: Request, error: Exception) -> Response:
    """A fault of ours: it stands in the terminal, the page says so in one line."""
    return _told(request, 500, f"the program failed ({type(error).__name__}); its terminal tells more")


def _told(request: Request, status: int, said: str) -> Response:
    page: Trouble = trouble_of(status, said)
    return rendered(request, "trouble.html", page, status=status)
