"""Compound: charges to weigh, and families of batches."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from runtrue.web.page import At, page
from runtrue.workflow.pages.compound import (
    CompoundPage,
    FamilyPage,
    Weighings,
    charge_page,
    compound_page,
    family_page,
)

router = APIRouter()


class Typed(BaseModel):
    """The form of a charge as typed: masses in kg, one per line; empty is not weighed yet."""

    batch_kg: str = Field(default="", max_length=12)
    mass: list[Annotated[str, Field(max_length=20)]] = Field(default_factory=list, max_length=200)
    scan: str = Field(default="", max_length=60)


@page(router, "/compound", "compound.html")
def compound(desk: At) -> CompoundPage:
    """What can be weighed and checked."""
    return compound_page(desk.ports)


@page(router, "/compound/charge/{name}", "compound.html")
def charge(desk: At, name: str, typed: Annotated[Typed, Query()]) -> CompoundPage:
    """A charge as it is weighed."""
    asked = Weighings(batch_kg=typed.batch_kg, masses=tuple(typed.mass), scan=typed.scan)
    return charge_page(desk.ports, name, asked)


@page(router, "/compound/family/{name}", "family.html")
def family(desk: At, name: str, baseline: Annotated[str, Query(max_length=12)] = "") -> FamilyPage:
    """Batches against their family."""
    return family_page(desk.ports, name, baseline)
