"""Copies laid over one another."""

from typing import Annotated

from fastapi import APIRouter, Query

from runtrue.web.page import At, page
from runtrue.workflow.pages.copies import CopiesPage, copies_page, sides_page

router = APIRouter()


@page(router, "/copies", "copies.html")
def sides(desk: At) -> CopiesPage:
    """Sides whose copies were played."""
    return sides_page(desk.ports)


@page(router, "/copies/{job}/{side}", "copies.html")
def copies(desk: At, job: str, side: str, at: Annotated[float | None, Query(ge=0.0, le=7200.0)] = None) -> CopiesPage:
    """The copies of one side."""
    return copies_page(desk.ports, job, side, at)
