"""Find by anything printed on a disc, a box, a label or a sheet; a bar code reader types into it."""

import re
from dataclasses import dataclass
from urllib.parse import quote

from sqlalchemy import Connection

from runtrue.errors import InputError
from runtrue.paper.words import count, sentence_case
from runtrue.records import asking, tables
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.book_requests import ChainRequest, MadeRequest
from runtrue.workflow.chain import NAMED, ORDER, chain
from runtrue.workflow.made import made
from runtrue.workflow.pages.page import Head, head

SEARCHED = (
    "job and catalogue number", "matrix number as scribed", "cut, father, mother and stamper", "compound batch",
    "supplier's lot", "label lot", "run", "sample or copy", "box as job/box, J-1/8", "closure as run/closure, R1/312",
    "pallet", "consignment", "complaint",
)  # fmt: skip
"""What is looked through, in words."""
MOST = 60
"""Things of one kind that are shown."""
_PARTS = re.compile(r"\s*[/ ]\s*")
_METAL = frozenset({"cut", "father", "mother", "stamper"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """Something that hangs together with what was looked for; ``href`` is empty for what has no page."""

    name: str
    words: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinds:
    """Things of one kind; ``more`` says how many are left out."""

    kind: str
    things: list[Thing]
    more: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindPage:
    """What was found; ``near`` are names that begin as what was typed."""

    head: Head
    asked: str
    found: list[Kinds]
    near: list[Thing]
    searched: list[str]


def find_page(ports: Ports, asked: str) -> FindPage:
    """Look for what was typed or read: exactly, then in the book's own spelling, then by how names begin."""
    said = asked.strip()
    if not said:
        return _page("", head("Find", "Type or scan anything printed.", act="On a disc, a box, a label, a sheet."))
    name = said.lstrip("(").partition(")")[2] or said if said.startswith("(") else said
    found = _closure(ports, name) or _chained(ports, name)
    if found is not None:
        return found
    with ports.open_book(None).read() as connection:
        near = _near(connection, name)
    same = [one for one in near if _plain(one.name) == _plain(name)]
    if len({one.name for one in same}) == 1:
        spelled = _chained(ports, same[0].name)
        if spelled is not None:
            return spelled
    shown = name[:60]
    if near:
        return _page(said, head("Find", f"“{shown}” names nothing.", act=f"{count(len(near), 'name')} "
                                f"{'begins' if len(near) == 1 else 'begin'} so."), near=near)  # fmt: skip
    return _page(said, head("Find", f"“{shown}” names nothing in the book.", act="Check the spelling."))


def _page(asked: str, top: Head, *, found: list[Kinds] | None = None, near: list[Thing] | None = None) -> FindPage:
    return FindPage(head=top, asked=asked, found=found or [], near=near or [],
                    searched=[sentence_case(one) for one in SEARCHED])  # fmt: skip


def _plain(name: str) -> str:
    """A name without what a hand or a scriber leaves out: case, blanks, hyphens."""
    return re.sub(r"[\W_]+", "", name).casefold()


def _chained(ports: Ports, name: str) -> FindPage | None:
    try:
        result = chain(ChainRequest(name=name), ports, silent)
    except InputError:
        return None
    found = [
        Kinds(
            kind=kind,
            things=[Thing(name=_name(kind, one.name), words=one.words, href=_href(kind, one.name))
                    for one in rows[:MOST]],
            more=f"and {len(rows) - MOST} more; `runtrue book chain` tells all" if len(rows) > MOST else "",
        )
        for kind in ORDER
        if (rows := [one for one in result.links if one.kind == kind])
    ]  # fmt: skip
    what, _, where = result.said.partition(": ")[2].partition("; ")
    what = what.replace("metal", "piece of metal")
    return _page(name, head("Find", f"{name} is a {what}.", act=sentence_case(where)), found=found)


def _name(kind: str, name: str) -> str:
    """A name as people read it: of a key its head."""
    return f"{name[:8]} ..." if kind == "analysis" else name


def _href(kind: str, name: str) -> str:
    """The page of a thing: metal and recordings have their own, the rest are found again."""
    if kind in _METAL:
        return f"/metal/piece/{quote(name, safe='')}"
    if kind == "analysis":
        return f"/recordings/{name}"
    if kind in ("job", "run", "batch", "sample", "pallet", "consignment", "complaint", "label lot", "ingredient"):
        return f"/find?q={quote(name, safe='')}"
    if kind == "side":
        return f"/copies/{quote(name, safe='/')}"
    return ""


def _closure(ports: Ports, name: str) -> FindPage | None:
    """What made a closure "R1/312", or a box "J-1/8"."""
    parts = _PARTS.split(name)
    if len(parts) != 2 or not all(parts):
        return None
    whole, part = parts
    with ports.open_book(None).read() as connection:
        is_run = part.isascii() and part.isdigit() and len(part) < 10 and asking.count_where(
            connection, tables.Run, run=whole
        )  # fmt: skip
        is_box = asking.count_where(connection, tables.Box, job=whole, box=part)
    if not is_run and not is_box:
        return None
    asked = MadeRequest(run=whole, closure=int(part)) if is_run else MadeRequest(job=whole, box=part)
    try:
        result = made(asked, ports, silent)
    except InputError as error:
        return _page(name, head("Find", sentence_case(f"{error}").rstrip(".") + ".", act="Check the number."))
    what = f"Closure {part} of run {result.run}" if is_run else f"Box {part} of job {result.job}"
    things = [
        Thing(
            name=one.ref, words=_held_words(one.answer), href=_href(_kind(one.kind), one.ref),
        )
        for one in result.held
    ]  # fmt: skip
    kinds = [
        Kinds(kind=kind, things=[thing for thing, one in zip(things, result.held, strict=True) if _kind(one.kind) ==
                                 kind], more="")
        for kind in dict.fromkeys(_kind(one.kind) for one in result.held)
    ]  # fmt: skip
    kinds.insert(0, Kinds(kind="run", more="", things=[
        Thing(name=result.run, words=f"press {result.press}, cavity {result.cavity}", href=_href("run", result.run))
    ]))  # fmt: skip
    return _page(name, head("Find", f"{what}.", act=f"Pressed on {result.press} for job {result.job}."), found=kinds)


def _kind(kind: str) -> str:
    return "stamper" if kind.startswith("stamper_") else "label lot" if kind.startswith("label_") else kind


def _held_words(answer: str) -> str:
    return {"surely": "", "maybe": "in part or perhaps"}.get(answer, answer.replace("_", " "))


def _near(connection: Connection, name: str) -> list[Thing]:
    """Names of the book that begin as this one, whatever their case and hyphens."""
    start = _plain(name)
    if not start:
        return []
    found: dict[str, Thing] = {}
    for model, column, what in NAMED:
        for near in asking.names_like(connection, model, column, name, last=MOST):
            if _plain(near).startswith(start):
                found.setdefault(near, Thing(name=near, words=what, href=f"/find?q={quote(near, safe='')}"))
    return list(found.values())[:MOST]
