"""What comparing copies and the finder ring are asked."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask, same
from runtrue.workflow.requests import ListenCheckRequest


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenCompareRequest:
    """Lay copies of one side over one another."""

    copies: Path = ask(
        Kind.PATH,
        "list of the recordings (CSV): columns file, copy, and any of closure, stamper, mother, father, press, cavity, "
        "compound, pile, placing, push, player, stylus, play, played_at, washed, rig; files are relative to its folder",
        positional=True,
    )
    reference: Path | None = ask(
        Kind.PATH,
        "what the side should sound like; without it the copies serve each other, and what all of them share stays "
        "unseen",
        default=None,
    )
    format: str = same(ListenCheckRequest, "format")
    picture: Path | None = ask(
        Kind.PATH,
        "draw the copies, programme time across, into a new .svg; a new .pdf shows the places on disc and stamper too",
        default=None,
    )
    other_side: Path | None = ask(
        Kind.PATH,
        "what `listen compare --json` printed for the other side of these copies: offsets that move together on both "
        "sides are the pin's or the hole's",
        default=None,
    )
    rpm: float | None = same(ListenCheckRequest, "rpm")
    start_radius_mm: float | None = same(ListenCheckRequest, "start_radius_mm")
    end_radius_mm: float | None = same(ListenCheckRequest, "end_radius_mm")
    arm_offset_deg: float | None = same(ListenCheckRequest, "arm_offset_deg")
    arm_length_mm: float | None = same(ListenCheckRequest, "arm_length_mm")
    arm_overhang_mm: float | None = same(ListenCheckRequest, "arm_overhang_mm")
    player_swing_percent: float | None = same(ListenCheckRequest, "player_swing_percent")
    spindle_mm: float | None = same(ListenCheckRequest, "spindle_mm")
    hole_mm: float | None = same(ListenCheckRequest, "hole_mm")
    rig: Path | None = same(ListenCheckRequest, "rig")
    limits: Path | None = same(ListenCheckRequest, "limits")
    standard: str | None = same(ListenCheckRequest, "standard")


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenRingRequest:
    """Print the ring that finds a fault on disc or stamper."""

    result: Path = ask(Kind.PATH, "result of `listen check --json` or `listen compare --json`", positional=True)
    out: Path = ask(Kind.PATH, "PDF to write, new; print it at 100 %", positional=True)
    side: str | None = ask(Kind.TEXT, "what to call the side on the sheet", default=None)
    zero_at_s: float | None = ask(
        Kind.NUMBER,
        "programme time of the mark on the disc that is to be 0 deg; the start of the programme if not given",
        default=None, unit="s", low=0,
    )  # fmt: skip
    label_mm: float | None = ask(
        Kind.NUMBER, "diameter of the label; the format's usual one if not given", default=None, unit="mm", low=40,
        high=160,
    )  # fmt: skip
    most: int | None = ask(Kind.WHOLE, "faults to mark, the most prominent ones; 8 if not given", default=None, low=1,
                           high=12)  # fmt: skip
