"""What lies in the folder of the demonstration, and how to judge a recording of one's own with it."""

from runtrue.demo.bench import name_of
from runtrue.demo.scenario import Scenario

REFERENCE = "reference"
"""Folder of what the sides should sound like."""


def reference_of(label: str) -> str:
    """File of a side's reference within the folder."""
    return f"{REFERENCE}/{label}.flac"


def guide_text(story: Scenario, *, sound: bool) -> str:
    """The README of the folder; ``sound``: the recordings were kept."""
    side = story.side[0]
    disc = side.disc
    record = (
        f"--format {story.title.format} --start-radius-mm {disc['start_radius_mm']:g} "
        f"--end-radius-mm {disc['end_radius_mm']:g}"
    )
    reference = reference_of(side.label)
    make = f"--offset-um 260 --direction-deg 30 --tick {0.4 * side.seconds:.1f} --surface-db -50"
    known = "--arm-offset-deg 0 --player-swing-percent 0 --limits limits.toml"
    first = next(story.playings())
    kept = (
        f"The recordings are in `sound/`. One of them as it was judged:\n\n```\n"
        f"runtrue listen check sound/{name_of(*first)}.wav --reference {reference_of(first[1].label)} {record} "
        f"--hole-mm {story.rig.hole_mm:g} --rig rig.toml --limits limits.toml\n```\n"
        if sound
        else "The recordings themselves were not kept; `runtrue demo --keep-sound` keeps them.\n"
    )
    return f"""# {story.title.name}, {story.title.artist}

Plant, people, title and faults are invented; the music is composed by the program.

- `dossier.pdf`: what was found, copy by copy, and who has to act. Print at 100 %.
- `results/`: each recording's result, as `runtrue listen check --json` prints it.
- `truth/`: what was really put into each recording. The judge never saw it.
- `{REFERENCE}/`: what the sides should sound like.
- `compound/`: a batch of twenty ingredients weighed with slips and repaired, with its sheet, and charted beside thirty
  earlier ones.
- `press/`: a press as its plant describes it, a log of its thermocouples, what the log tells, the temperature picture
  of its cycle, and whether the cycle can run two seconds shorter. No figure in it is a safe setting.
- `limits.toml`, `rig.toml`: the limits in force and what is known of the player.

## Judge a recording yourself

Make one, 260 μm off centre and with a tick, then judge it:

```
runtrue listen render {reference} mine.flac {record} {make}
runtrue listen check mine.flac --reference {reference} {record} {known}
```

{kept}
For a record of your own: record a whole side without any cleaning, give its cutting file or an approved pressing as
`--reference`, and describe your player in a file like `rig.toml`. `runtrue listen check --help` says the rest.
"""
