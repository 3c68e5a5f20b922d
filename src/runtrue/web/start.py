"""The first screen."""

from fastapi import APIRouter, Response
from starlette.responses import FileResponse

from runtrue.web.page import STATIC, At, page
from runtrue.workflow.pages.copies import CopiesPage, start_page

router = APIRouter()


@page(router, "/", "copies.html")
def start(desk: At) -> CopiesPage:
    """What needs a decision first."""
    return start_page(desk.ports)


@router.get("/favicon.ico", include_in_schema=False)
def favicon() -> Response:
    """The ring with its mark; a browser asks for it unasked."""
    return FileResponse(STATIC / "mark.svg", media_type="image/svg+xml")
