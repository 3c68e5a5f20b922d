"""From judged recordings of the story to what is printed: rows with a short phrase each, and the advice."""

from collections.abc import Mapping

import runtrue
from runtrue.contract.demo import DemoAdvice, DemoCopy, Demonstration
from runtrue.demo.bench import name_of
from runtrue.demo.scenario import Copy, Playing, Scenario
from runtrue.workflow.advice import Span
from runtrue.workflow.dossier import Dossier, Run
from runtrue.workflow.judged import Judged
from runtrue.workflow.listening import Checked
from runtrue.workflow.words import phrase


def run_of(story: Scenario, now: str) -> Run:
    """The run that the dossier is about."""
    title = story.title
    return Run(
        plant=story.plant.name,
        title=f"{title.catalogue}, “{title.name}”, {title.artist}",
        sheet_name=f"Dossier {title.catalogue}",
        day=now,
    )


def judged_of(story: Scenario, results: Mapping[str, Checked]) -> list[Judged]:
    """The recordings with what the press log knows of them."""
    return [
        Judged(
            copy=f"copy {copy.id}",
            side=playing.label,
            closure=copy.closure,
            stamper=story.stamper_of(copy, playing.label).id,
            mother=story.side_of(playing.label).mother,
            father=story.side_of(playing.label).father,
            press=story.plant.press,
            pile=str(copy.pile),
            batch=copy.compound,
            note=note_of(playing),
            washed=playing.was_washed,
            waveforms=results[name_of(copy, playing)].waveforms,
            listening=results[name_of(copy, playing)].listening,
            traces=results[name_of(copy, playing)].traces,
        )
        for copy, playing in story.playings()
    ]


def spans_of(story: Scenario) -> list[Span]:
    """Which stamper pressed which closures."""
    return [Span(stamper=s.id, side=s.side, first=s.from_closure, last=s.to_closure) for s in story.stamper]


def note_of(playing: Playing) -> str:
    """What tells two playings of one side apart: "pushed away", "washed"."""
    return f"pushed {playing.push}" if playing.push else playing.state


def demonstration_of(
    story: Scenario, results: Mapping[str, Checked], dossier: Dossier, *, out: str, files: list[str]
) -> Demonstration:
    """The outcome as it is printed."""
    return Demonstration(
        out=out,
        files=files,
        title=dossier.sheets.title,
        headline=dossier.opening.said,
        act=dossier.opening.act,
        copies=[_row(story, copy, playing, results[name_of(copy, playing)]) for copy, playing in story.playings()],
        advice=[
            DemoAdvice(
                station=one.station,
                found=one.found,
                act=one.act,
                copies=list(one.copies),
                hold_from=one.hold[0] if one.hold else None,
                hold_to=one.hold[1] if one.hold else None,
            )
            for one in dossier.advice
        ],
        version=runtrue.__version__,
    )


def _row(story: Scenario, copy: Copy, playing: Playing, checked: Checked) -> DemoCopy:
    result = checked.listening
    centre = result.off_centre.disc or result.off_centre.played
    return DemoCopy(
        copy=copy.id,
        closure=copy.closure,
        stamper=story.stamper_of(copy, playing.label).id,
        side=playing.label,
        note=note_of(playing),
        verdict=result.verdict,
        found=phrase(result),
        offset_um=None if centre is None else centre.offset_um,
        offset_u95_um=None if centre is None else centre.offset_u95_um,
        ticks=None if result.ticks is None else len(result.ticks),
        result=f"results/{name_of(copy, playing)}.json",
    )
