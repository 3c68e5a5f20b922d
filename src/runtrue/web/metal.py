"""Metal and the centre of a stamper."""

from typing import Annotated, Literal
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Form, Query
from pydantic import BaseModel, Field
from starlette.responses import RedirectResponse

from runtrue.web.guard import own_form
from runtrue.web.page import At, page
from runtrue.workflow.pages.metal import MetalPage, Readings, keep_centre, metal_page, piece_page

router = APIRouter()


class Typed(BaseModel):
    """The form of readings as typed; an empty limit is none."""

    reading: list[Annotated[str, Field(max_length=20)]] = Field(default_factory=list, max_length=24)
    places: int = Field(default=8, ge=4, le=24)
    groove: Literal["locked", "spiral"] = "locked"
    face: Literal["stamper", "record"] = "stamper"
    held: Literal["placed", "pinned"] = "placed"
    limit_swing_um: str = Field(default="", max_length=12)

    def asked(self) -> Readings:
        """What the workflow is asked."""
        return Readings(
            places=self.places, typed=tuple(self.reading), groove=self.groove, face=self.face, held=self.held,
            limit_swing_um=Readings.limit(self.limit_swing_um),
        )  # fmt: skip


@page(router, "/metal", "metal.html")
def metal(desk: At) -> MetalPage:
    """The metal of the newest side."""
    return metal_page(desk.ports)


@page(router, "/metal/side/{matrix:path}", "metal.html")
def side(desk: At, matrix: str) -> MetalPage:
    """The metal of a side."""
    return metal_page(desk.ports, matrix=matrix)


@page(router, "/metal/piece/{name:path}", "metal.html")
def piece(desk: At, name: str, typed: Annotated[Typed, Query()]) -> MetalPage:
    """A piece, and its centre from readings."""
    return piece_page(desk.ports, name, typed.asked())


@router.post("/metal/piece/{name:path}", dependencies=[own_form], response_class=RedirectResponse, status_code=303)
def keep(desk: At, name: str, typed: Annotated[Typed, Form()]) -> str:
    """Keep a centre in the book, then show it."""
    keep_centre(desk.ports, name, typed.asked())
    return f"/metal/piece/{quote(name, safe='')}?{urlencode(typed.model_dump(), doseq=True)}"
