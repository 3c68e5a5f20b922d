"""The press and what other seconds would do."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from runtrue.web.page import At, page
from runtrue.workflow.pages.press import PressPage, press_page

router = APIRouter()


class Seconds(BaseModel):
    """Seconds as typed, one per phase of the file, and of a hold after the steam; empty is as the file has it."""

    s: list[Annotated[str, Field(max_length=12)]] = Field(default_factory=list, max_length=40)
    hold_s: str = Field(default="", max_length=12)


@page(router, "/press", "press.html")
def first_press(desk: At) -> PressPage:
    """The cycle of the first press file."""
    return press_page(desk.ports, None)


@page(router, "/press/{name}", "press.html")
def press(desk: At, name: str, typed: Annotated[Seconds, Query()]) -> PressPage:
    """The cycle of a press, and the same with other seconds."""
    return press_page(desk.ports, name, typed.s, typed.hold_s)
