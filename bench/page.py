"""The committed page of the table."""

from bench import rows
from bench.acceptance import Row
from bench.judged import Outcome

_DRAWN = """\
- Music: every character of the composer but the steady tone, which holds no place to be known by. References at 44.1
  and 48 kHz, captures at 44.1, 48 and 96 kHz; 33, 45 and 78 rpm; speed errors of 0.4 %, in four of ten up to 6 %.
- Disc: offset 20 to 500 um (even in its logarithm), any direction; lathe error of sd 51 ppm; surface noise 50 dB below
  the programme's rms. Arm, known: a constant lean of 0 to 24 deg or an overhung arm of 230 mm. No swing of the player.
- Random wow of 5e-6 to 4e-5 per root Hz at 1 Hz, falling with up to 1/f, from 0.05 to 10 Hz. It is what limits the
  off-centre vector: a player without a swing of its own is not one of perfect speed.
- Ticks: 12 a render, 10 to 60 us wide, ringing at 2 to 12 kHz for 40 to 400 us, on any axis, 5 to 45 dB over the noise.
- Faults in renders of 25 to 40 s, at places where the programme is at least 10 dB above the surface noise for half a
  second (for jumps, and a turn) on both sides. Silence at a programme's ends may be left out of what was heard. No
  edits of bars that repeat to the sample: a cut there is known but for whole bars.
- Delay tracks: classes of one format, length (60 to 120 s), offset, arm, wow (3e-6 to 1e-4, slope -1.2 to 0.3) and
  delay error (0.3 to 20 us, some correlated); lathe error, direction and all noise anew for each track. With the
  player's swing unknown: 60 s, wow from 1e-5 on (below it a long side really can tell them apart), swing drawn from
  its prior of 0.02 %.
- Real music: cuts of 60 s, with noise of the spectrum of a real record's surface.
- Cost: R is one reading of the capture's FLAC, F one float32 rfft pass over it, both measured in the same run."""

_CHANCE = """\
A goal given as a share is missed only if a program that just reaches it would show so few once in 100; beside it
stands the true rate of the weakest program that still passes once in 20. A goal without a share is held by each
render. A goal given as a rate passes only if that very rate would show so few at most once in 20."""


def page(table: list[Row], outcomes: list[Outcome], *, fresh: int, title: str) -> str:
    """The table with what was drawn and what was missed, as Markdown."""
    long = [o for o in outcomes if rows.kind_of(o) == "measure"]
    missed = [f"- {text}" for text in rows.misses(outcomes)] or ["None."]
    parts = [
        "# Accuracy",
        "Written by `python -m bench --write`, not by hand. Every render is composed music with a disc, a player and\n"
        "a recorder drawn from one seed, and is compared with the maker's exact truth.",
        f"This table: {title}; fresh seed {fresh} (`--fresh {fresh}` makes the same again); renders:\n"
        f"{rows.counted(outcomes)}.",
        "\n".join(["| quantity | needed | found | reached | accepted |", "|" + " --- |" * 5, *map(shown, table)]),
        "## What is drawn",
        _DRAWN,
        "## How chance is kept out",
        _CHANCE,
        "## The long renders by their music",
        "\n".join(rows.by_character(long)),
        "## Renders that missed something",
        "\n".join(missed),
    ]
    return "\n\n".join(parts) + "\n"


def shown(row: Row, unsaid: str = "not run") -> str:
    """A row of the table, as Markdown."""
    mark = {True: "yes", False: "**no**", None: unsaid}[row.passed]
    return f"| {row.quantity} | {row.needed} | {row.found} | {mark} | {row.rule} |"
