"""What can be done with one judged recording."""

from runtrue.workflow.actions import Action, Role
from runtrue.workflow.heard_request import ListenCuesRequest, ListenMarksRequest


def _done(_outcome: object) -> int:
    return 0


HEARD = (
    Action(
        station="listen",
        verb="cues",
        summary="Write the findings as cue points into a copy of the recording.",
        text=(
            "Copies the recording sample for sample to a WAV file and marks each tick, zone and jump of the result as "
            "a RIFF cue point with its label, so that any editor that shows cue points goes straight to it."
        ),
        request=ListenCuesRequest,
        result="runtrue.contract.heard:CuedCopy",
        function="runtrue.workflow.cues:cues",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable, 5 disk or rights",
        example="runtrue listen cues result.json capture.flac marked.wav",
        role=Role.LISTENER,
        writes=True,
        long=False,
    ),
    Action(
        station="listen",
        verb="marks",
        summary="Refit what counts as heard from people's marks.",
        text=(
            "Reads who heard which tick and who did not, fits the threshold of hearing to it and says how well ears "
            "and program agree, before and after, and the listeners among each other. The shift and the spread go "
            "into `listen check --hearing-shift-db --hearing-spread-db`."
        ),
        request=ListenMarksRequest,
        result="runtrue.contract.heard:RefitHearing",
        function="runtrue.workflow.marks:refit",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable",
        example="runtrue listen marks marks.csv",
        role=Role.LISTENER,
        writes=False,
        long=False,
    ),
)
"""Cue points and marks."""
