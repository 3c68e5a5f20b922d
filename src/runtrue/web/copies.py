"""Copies laid over one another."""

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import Response

from runtrue.web.page import At, page
from runtrue.workflow.pages.copies import CopiesPage, copies_page, ring_of, sides_page

router = APIRouter()


@page(router, "/copies", "copies.html")
def sides(desk: At) -> CopiesPage:
    """Sides whose copies were played."""
    return sides_page(desk.ports)


@page(router, "/copies/{job}/{side}", "copies.html")
def copies(desk: At, job: str, side: str, at: Annotated[float | None, Query(ge=0.0, le=7200.0)] = None) -> CopiesPage:
    """The copies of one side."""
    return copies_page(desk.ports, job, side, at)


@router.get("/copies/{job}/{side}/ring.pdf")
def ring(desk: At, job: str, side: str) -> Response:
    """The ring that finds the marks on disc or stamper, to print at 100 %."""
    with TemporaryDirectory(prefix="runtrue-") as folder:
        out = Path(folder) / "ring.pdf"
        ring_of(desk.ports, job, side, out)
        return Response(
            out.read_bytes(), media_type="application/pdf",
            headers={"content-disposition": 'inline; filename="finder-ring.pdf"'},
        )  # fmt: skip
