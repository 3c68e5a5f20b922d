"""The floor."""

from typing import Annotated

from fastapi import APIRouter, Query

from runtrue.web.page import At, page
from runtrue.workflow.pages.floor import EVERY, FloorPage, floor_page

router = APIRouter()


@page(router, "/floor", "floor.html")
def floor(desk: At, every: Annotated[int, Query(ge=1, le=100_000)] = EVERY) -> FloorPage:
    """Presses now, and what needs a decision."""
    return floor_page(desk.ports, every)
