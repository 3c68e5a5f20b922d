"""Find anything printed."""

from typing import Annotated

from fastapi import APIRouter, Query

from runtrue.web.page import At, page
from runtrue.workflow.pages.find import FindPage, find_page

router = APIRouter()


@page(router, "/find", "find.html")
def find(desk: At, q: Annotated[str, Query(max_length=200)] = "") -> FindPage:
    """What hangs together with a name."""
    return find_page(desk.ports, q)
