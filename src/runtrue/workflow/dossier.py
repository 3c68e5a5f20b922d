"""Several judged recordings of one run become a dossier: the opening sentence, the pictures, who has to act."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import runtrue
from runtrue.paper.copies import Entry, Shared
from runtrue.paper.dossier import DossierInput, Reason, write_dossier
from runtrue.workflow.advice import Advice, Opening, Span, advise, opening
from runtrue.workflow.judged import Judged

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What a dossier is about: the plant, the title in words, the name of the sheet, and the day as ISO 8601."""

    plant: str
    title: str
    sheet_name: str
    day: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Dossier:
    """The recordings of a run, what they say together, and the sheets that print it."""

    opening: Opening
    advice: tuple[Advice, ...]
    sheets: DossierInput


def dossier_of(run: Run, judged: Sequence[Judged], spans: Sequence[Span] = ()) -> Dossier:
    """Draw the conclusions over the copies and set out the sheets."""
    advice = advise(judged, spans)
    first = opening(judged, advice)
    sheets = DossierInput(
        plant=run.plant,
        title=run.title,
        sheet_name=run.sheet_name,
        date=day_words(run.day),
        version=runtrue.__version__,
        entries=tuple(_entry(one, advice) for one in judged),
        headline=first.said,
        advice=first.act,
        detail=first.detail,
        shared=tuple(
            Shared(
                side=one.side,
                programme_s=one.recurrence.programme_s,
                copies=one.copies,
                words=one.found,
                begins=one.recurrence.from_closure if one.hold else None,
                ends=one.recurrence.to_closure if one.hold else None,
            )
            for one in advice
            if one.recurrence is not None
        ),
        reasons=tuple(Reason(station=one.station, found=one.found, act=one.act) for one in advice),
    )
    return Dossier(opening=first, advice=tuple(advice), sheets=sheets)


def write(path: Path, dossier: Dossier) -> None:
    """Write the dossier as PDF."""
    write_dossier(path, dossier.sheets)


def _entry(one: Judged, advice: Sequence[Advice]) -> Entry:
    """A recording's page, with what is to be done about what it shows."""
    acts = [a.act for a in advice if a.failing and one.copy in a.copies and a.side in ("", one.side)]
    return Entry(
        copy=one.copy, side=one.side, closure=one.closure, stamper=one.stamper, listening=one.listening,
        traces=one.traces, note=one.note, advice=" ".join(dict.fromkeys(acts)),
    )  # fmt: skip


def day_words(day: str) -> str:
    """A day as it is written.

    Examples
    --------
    >>> day_words("2026-11-25T08:30:00+00:00")
    '25 November 2026'
    """
    year, month, rest = day.split("-", 2)
    return f"{int(rest[:2])} {_MONTHS[int(month) - 1]} {year}"
