"""The actions there are."""

from typing import TYPE_CHECKING

from runtrue.workflow.actions import Action, Role
from runtrue.workflow.book_catalogue import BOOK, WORK
from runtrue.workflow.compound_catalogue import COMPOUND
from runtrue.workflow.copies_catalogue import COPIES
from runtrue.workflow.demo_request import DemoRequest
from runtrue.workflow.heard_catalogue import HEARD
from runtrue.workflow.metal_catalogue import METAL
from runtrue.workflow.press_catalogue import PRESS
from runtrue.workflow.requests import ListenCheckRequest, ListenRenderRequest
from runtrue.workflow.serve_request import ServeRequest

if TYPE_CHECKING:
    from runtrue.workflow.listening import Checked

EXIT_OF_VERDICT = {"pass": 0, "fail": 3, "cannot_judge": 4}
"""Exit code of a verdict, by the command contract."""


def _by_verdict(outcome: "Checked") -> int:
    return EXIT_OF_VERDICT[outcome.listening.verdict]


def _done(_outcome: object) -> int:
    return 0


CATALOGUE = (
    *METAL,
    *COMPOUND,
    *PRESS,
    Action(
        station="listen",
        verb="check",
        summary="Judge one recording of a record against its reference.",
        text=(
            "Lays the recording over what the side should sound like and says what the disc does to it: off-centre, "
            "jumps, ticks with their place on the disc, surface noise, speed. Every number carries its 95 % "
            "uncertainty, and the verdict says by which limit and at what odds. Without a reference only what the "
            "recording alone can tell is measured, and nothing can be passed."
        ),
        request=ListenCheckRequest,
        result="runtrue.contract.listening:Listening",
        function="runtrue.workflow.keeping:check",
        exit_code=_by_verdict,
        exits="0 pass, 3 fail, 4 cannot judge, 2 argument or file not usable, 5 disk or rights, 130 stopped",
        example="runtrue listen check capture.flac --reference reference.flac --format 12in-33",
        role=Role.LISTENER,
        writes=False,
        long=True,
    ),
    *HEARD,
    *COPIES,
    Action(
        station="listen",
        verb="render",
        summary="Make a recording with faults, to hear what a limit means.",
        text=(
            "Plays the reference from a disc with the faults asked for and writes what a player would give: exact "
            "geometry of groove, hole and arm. The truth is printed beside it, so the recording also tries `listen "
            "check`. A faults file says more than the options: warps, noise zones, trains, hum, rumble."
        ),
        request=ListenRenderRequest,
        result="runtrue.contract.rendering:Rendering",
        function="runtrue.workflow.rendering:render",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable, 5 disk or rights, 130 stopped",
        example="runtrue listen render reference.flac swinging.flac --format 12in-33 --offset-um 200 --tick 3.5",
        role=Role.ANYONE,
        writes=True,
        long=True,
    ),
    *BOOK,
    WORK,
    Action(
        station="",
        verb="serve",
        summary="Open the pages of a book in the browser of this computer.",
        text=(
            "Shows recordings, copies and what else stands in the book, plays what is heard there and takes new "
            "recordings in. It listens on this computer alone, 127.0.0.1, and asks nothing of any other. Ctrl-C stops "
            "it; work that was under way is taken up again the next time."
        ),
        request=ServeRequest,
        result="runtrue.contract.served:Served",
        function="runtrue.web.serve:serve",
        exit_code=_done,
        exits="0 stopped, 2 argument not usable, 5 port taken, book locked, disk or rights",
        example="runtrue serve --book book.sqlite",
        role=Role.ANYONE,
        writes=True,
        long=True,
    ),
    Action(
        station="",
        verb="demo",
        summary="Press an invented title with faults, judge its copies, write the dossier.",
        text=(
            "Composes the music of two sides, presses eight copies with the faults of a story, plays them and judges "
            "each recording as `listen check` does. The dossier says which copies are bad, where, since when, and "
            "which station has to act; results and the truth lie beside it. Takes one to two minutes on two cores."
        ),
        request=DemoRequest,
        result="runtrue.contract.demo:Demonstration",
        function="runtrue.demo.run:run",
        exit_code=_done,
        exits="0 done (copies fail on purpose), 2 argument or file not usable, 5 disk or rights, 130 stopped",
        example="runtrue demo --out demo-out",
        role=Role.ANYONE,
        writes=True,
        long=True,
    ),
)
"""Every action, in the order of the job."""
