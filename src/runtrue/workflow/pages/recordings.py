"""The list of recordings, what is being judged, and what an upload needs."""

from dataclasses import dataclass

from runtrue.disc.formats import FORMATS
from runtrue.limits import shipped
from runtrue.paper.words import VERDICT_WORDS, count
from runtrue.records import asking, tables
from runtrue.workflow.actions import Ports
from runtrue.workflow.pages.library import recordings
from runtrue.workflow.pages.page import Head, head, mark
from runtrue.workflow.pages.taking import Field, fields


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingLine:
    """One recording of the list."""

    name: str
    href: str
    copy: str
    side: str
    closure: str
    verdict: str
    verdict_words: str
    mark: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A value to choose, and its words."""

    value: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingsPage:
    """The newest recordings, and what an upload chooses from."""

    head: Head
    lines: list[RecordingLine]
    formats: list[str]
    limits: list[str]
    references: list[Choice]
    samples: list[str]
    fields: list[Field]


def recordings_page(ports: Ports) -> RecordingsPage:
    """The newest recordings first."""
    with ports.open_book(None).read() as connection:
        found = recordings(connection)
        known = {row.digest: row.name for row in asking.last_rows(connection, tables.Capture, last=500)}
        samples = [row.sample for row in asking.last_rows(connection, tables.Sample, last=100)]
    used = dict.fromkeys(one.reference for one in reversed(found) if one.reference in known)
    said = f"{count(len(found), 'recording')} judged." if found else "No recording was judged yet."
    return RecordingsPage(
        head=head("Recordings", said, act="" if found else "Give one below."),
        lines=[
            RecordingLine(
                name=one.name, href=f"/recordings/{one.key}", copy=one.sample or "", side=one.side,
                closure="" if one.closure is None else str(one.closure), verdict=one.verdict or "",
                verdict_words=VERDICT_WORDS.get(one.verdict, ""), mark=mark(one.verdict, 24.0) if one.verdict else "",  # type: ignore[call-overload, arg-type]
                at=one.at[:16].replace("T", " "),
            )
            for one in reversed(found)
        ],
        formats=list(FORMATS), limits=shipped(),
        references=[Choice(value=digest, words=known[digest]) for digest in used if digest is not None],
        samples=list(reversed(samples)), fields=fields(),
    )  # fmt: skip
