"""Without a reference the copies serve each other: what they have in common takes its place."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10
from pathlib import Path

import soundfile

from runtrue.capture import open_sound
from runtrue.capture.sound import Sound
from runtrue.errors import InputError, RuntrueError
from runtrue.listen.copies.screen import LOUD
from runtrue.listen.mutual import LEAST, mutual
from runtrue.listen.store import RATE
from runtrue.types import Progress
from runtrue.workflow.copies_file import Listed
from runtrue.workflow.copies_request import ListenCompareRequest
from runtrue.workflow.played import Played
from runtrue.workflow.requests import OF_ONE, ListenCheckRequest
from runtrue.workflow.rig import Rig
from runtrue.workflow.setting import setting_of

COMMON = "common.wav"
_EDGE = 1.0
"""Off the ends of what three copies were heard on [s]: there the copies begin and end at different times."""
SHARE = 0.3
"""Of the progress: judging comes after."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Common:
    """The copies that are in the mean, the file whose times it keeps, from when to when it serves [s], and what the
    result has to say of it."""

    copies: list[str]
    base: str
    reach: tuple[float, float]
    cautions: tuple[str, ...]


def common_of(
    request: ListenCompareRequest, rows: Sequence[Listed], rig: Rig | None, workspace: Path, progress: Progress
) -> Common:
    """Write what the copies have in common into ``workspace``.

    Raises ``InputError`` where fewer than three go together. A recording that stands there twice counts once.
    """
    told = f"reference: none is given, and without it {LEAST} copies of one side are needed to serve each other"
    opened: dict[str, tuple[Listed, Sound]] = {}
    for row in rows:
        try:
            sound = open_sound(row.file)
        except RuntrueError:
            continue  # it is named when it is judged
        opened.setdefault(sound.digest, (row, Played(sound, exchanged=rig is not None and rig.left == 1)))
    if len(opened) < LEAST:
        raise InputError(f"{told}; give --reference or more copies")
    asked = {name: getattr(request, name) for name in ListenCheckRequest.__dataclass_fields__ if name not in OF_ONE}
    setting = setting_of(ListenCheckRequest(capture=rows[0].file, rig=request.rig, **asked), rig)
    known = [row for row, _ in opened.values()]
    with soundfile.SoundFile(workspace / COMMON, "w", RATE, 2, subtype="FLOAT", format="WAV") as file:
        found = mutual(
            [sound for _, sound in opened.values()], setting, file.write, workspace=workspace,
            progress=lambda what, share: progress(what, SHARE * share),
        )  # fmt: skip
    if found is None:
        raise InputError(
            f"{told}; of those given fewer go together: give --reference, or look whether all are of one side"
        )
    copies = list(dict.fromkeys(known[k].copy for k in found.used))
    return Common(
        copies=copies,
        base=known[found.base].file.name,
        reach=(found.start + _EDGE, found.stop - _EDGE),
        cautions=(
            f"No reference: {len(found.used)} recordings served each other. What all copies share cannot be called "
            "music or fault and is not seen; no copy passes by this.",
            f"Only ticks of {LOUD:.0f} dB over the noise and more are compared: smaller ones may be left of the music.",
            f"Times are those of {known[found.base].file.name}. Off-centre is not judged, and noise reads up to "
            f"{_low(len(found.used)):.1f} dB low, for each copy is in the mean.",
        ),
    )


def _low(count: int) -> float:
    """How much lower noise reads [dB] against a mean of ``count`` copies that holds it too."""
    return -10.0 * log10(1.0 - 1.0 / count)
