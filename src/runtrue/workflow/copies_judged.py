"""One recording of a list of copies, judged as ``listen check`` judges it and boiled down to what comparing needs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from runtrue.contract.listening import Centre, Listening, Tick, Traces, VerdictWord
from runtrue.errors import CancelledError, RuntrueError, SurroundingsError
from runtrue.listen.copies.sample import Play
from runtrue.listen.copies.screen import LOUD
from runtrue.types import Progress, silent
from runtrue.workflow.actions import system_ports
from runtrue.workflow.crew import crew
from runtrue.workflow.faults_words import ON_TICKS, out_of_limit
from runtrue.workflow.requests import ListenCheckRequest

Float64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """What one recording gave. ``reason`` is why it takes no part in the comparison; empty where it does.

    ``at`` (ticks, 5): turn, angle and its U95 [deg], radius and its U95 [mm]. ``fails``: out of a limit on ticks.
    """

    verdict: VerdictWord
    reason: str = ""
    sha256: str = ""
    reference: str = ""
    centre: Centre | None = None
    played: Centre | None = None
    surface: float | None = None
    treble: float | None = None
    reach: tuple[float, float] | None = None
    turn: float = 0.0
    duration: float = 0.0
    fails: bool = False
    time: Float64 = field(default_factory=lambda: np.zeros(0))
    u95: Float64 = field(default_factory=lambda: np.zeros(0))
    prominence: Float64 = field(default_factory=lambda: np.zeros(0))
    at: Float64 = field(default_factory=lambda: np.zeros((0, 5)))
    noise: Float64 = field(default_factory=lambda: np.zeros(0))
    waveform: NDArray[np.float16] | None = None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A recording to judge; ``common``: from when to when [s] what the copies themselves have in common serves as its
    reference, None where there is a true one."""

    request: ListenCheckRequest
    common: tuple[float, float] | None = None


def judge_one(job: Job) -> Heard:
    """Judge one recording; whatever is wrong with it becomes its reason, so that the others go on."""
    from runtrue.workflow.listening import check

    try:
        checked = check(job.request, system_ports(), silent)
    except (SurroundingsError, CancelledError):
        raise
    except RuntrueError as error:
        return Heard(verdict="cannot_judge", reason=str(error))
    heard = heard_of(checked.listening, checked.traces, checked.waveforms)
    return heard if job.common is None else _among_copies(heard, checked.listening, job.common)


def _among_copies(heard: Heard, listening: Listening, common: tuple[float, float]) -> Heard:
    """Without what only a reference tells: off-centre, what lies where too few copies were heard, ticks that are small
    enough to be left over from noise-like music, and a pass, for what all copies share stays unseen."""
    counting = [row for row in listening.findings if row.in_verdict and not row.quantity.startswith("off_centre")]
    fails = any(row.verdict == "fail" for row in counting)
    reach = heard.reach and (max(heard.reach[0], common[0]), min(heard.reach[1], common[1]))
    kept = (heard.time >= common[0]) & (heard.time <= common[1]) & (heard.prominence >= LOUD)
    return replace(
        heard, verdict="fail" if fails else "cannot_judge", centre=None, played=None, reach=reach,
        time=heard.time[kept], u95=heard.u95[kept], prominence=heard.prominence[kept], at=heard.at[kept],
        waveform=None if heard.waveform is None else heard.waveform[kept],
    )  # fmt: skip


def heard_of(listening: Listening, traces: Traces, waveforms: NDArray[np.float16] | None = None) -> Heard:
    """Boil a judged recording down."""
    if listening.programme.identity != "same" or listening.ticks is None or listening.programme.reach_s is None:
        why = {"other": "it holds another programme than the reference", "unclear": "its programme was not recognised"}
        return Heard(
            verdict=listening.verdict,
            reason=why.get(listening.programme.identity, "its ticks were not judged"),
            sha256=listening.input.sha256,
        )
    ticks = listening.ticks
    return Heard(
        verdict=listening.verdict,
        sha256=listening.input.sha256,
        reference="" if listening.reference is None else listening.reference.sha256,
        centre=listening.off_centre.disc or listening.off_centre.played,
        played=listening.off_centre.played,
        surface=listening.noise.surface_db_a,
        treble=_treble(listening),
        reach=listening.programme.reach_s,
        turn=listening.turn.period_s,
        duration=0.0 if listening.reference is None else listening.reference.duration_s,
        fails=out_of_limit(listening, *ON_TICKS),
        time=np.array([t.programme_s for t in ticks]),
        u95=np.array([t.u95_s for t in ticks]),
        prominence=np.array([t.prominence_db for t in ticks]),
        at=_places(ticks),
        noise=np.array([np.nan if level is None else level for level in traces.noise_db_a]),
        waveform=waveforms,
        cautions=tuple(listening.cautions),
    )


def _places(ticks: Sequence[Tick]) -> Float64:
    rows = [(t.turn, t.angle_deg, t.angle_u95_deg, t.radius_mm, t.radius_u95_mm) for t in ticks]
    return np.array(rows, dtype=np.float64).reshape(-1, 5)


def _treble(listening: Listening) -> float | None:
    """Mean of the transfer from 8 to 12.5 kHz over what was measured [dB re 1 kHz]."""
    bands = [band for band in listening.response.third_octaves or [] if 7900.0 < band.hz < 12_700.0]
    found = [v for band in bands for v in (band.outer_db, band.middle_db, band.inner_db) if v is not None]
    return float(np.mean(found)) if found else None


def play_of(heard: Heard, *, copy: str, closure: int | None, factors: dict[str, str], order: int | None,
            washed: bool | None) -> Play:  # fmt: skip
    """A judged recording as the comparison takes it: levels on one scale for all copies."""
    assert heard.reach is not None
    noise = heard.noise if len(heard.noise) else np.zeros(1)
    second = np.clip(heard.time, 0, len(noise) - 1).astype(np.intp)
    usual = float(np.nanmedian(noise)) if np.isfinite(noise).any() else 0.0
    there = np.where(np.isfinite(noise[second]), noise[second], usual)
    return Play(
        copy=copy, closure=closure, factors=factors, order=order, washed=washed, reach=heard.reach, time=heard.time,
        u95=heard.u95, level=heard.prominence + there, prominence=heard.prominence, noise=noise,
        waveform=heard.waveform,
    )  # fmt: skip


def _load() -> None:
    """Load what a worker needs."""
    import runtrue.workflow.listening  # noqa: F401


def usable_cores() -> int:
    """Processor cores that may be used."""
    import os

    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def judge_all(
    jobs: Sequence[Job], workspace: Path, progress: Progress, tell: Callable[[int, Heard], None]
) -> list[Heard]:
    """Judge every recording, in worker processes where there are several, and tell each as it is there."""
    workers = min(usable_cores(), len(jobs))
    found: list[Heard | None] = [None] * len(jobs)

    def done(k: int, heard: Heard) -> None:
        found[k] = heard
        tell(k, heard)
        progress(f"{sum(one is not None for one in found)} of {len(jobs)} recordings are judged",
                 0.97 * sum(one is not None for one in found) / len(jobs))  # fmt: skip

    if workers < 2:
        for k, job in enumerate(jobs):
            done(k, judge_one(job))
    else:
        from concurrent.futures import as_completed

        with crew(workspace / "work", _load, workers=workers) as pool:
            futures = {pool.submit(judge_one, job): k for k, job in enumerate(jobs)}
            for future in as_completed(futures):
                done(futures[future], future.result())
    return [one for one in found if one is not None]
