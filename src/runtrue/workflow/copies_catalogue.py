"""What can be done with several copies of one side."""

from typing import TYPE_CHECKING

from runtrue.workflow.actions import Action, Role
from runtrue.workflow.copies_request import ListenCompareRequest, ListenRingRequest

if TYPE_CHECKING:
    from runtrue.contract.copies import Copies


def _by_copies(outcome: "Copies") -> int:
    return {"pass": 0, "fail": 3, "cannot_judge": 4}[outcome.verdict]


def _done(_outcome: object) -> int:
    return 0


COPIES = (
    Action(
        station="listen",
        verb="compare",
        summary="Lay copies of one side over one another: whose fault, since when, what next.",
        text=(
            "Judges every recording of the list as `listen check` does and matches their ticks by programme time. For "
            "each that recurs it gives the odds of where it could have been made: cut, father, mother, stamper, "
            "something on the press from a closure until another, press, compound, pile, the copy alone, the player, "
            "dirt. It says what these copies cannot tell apart and which copy to play next, from when to when. Copies "
            "without a count are placed on it by their marks. Recordings that cannot be judged are named and the rest "
            "goes on."
        ),
        request=ListenCompareRequest,
        result="runtrue.contract.copies:Copies",
        function="runtrue.workflow.copies:compare",
        exit_code=_by_copies,
        exits="0 every copy passes and nothing is to be held, 3 one fails, 4 none fails and one cannot be "
        "judged or closures are to be held, 2 argument or file not usable, 5 disk or rights, 130 stopped",
        example="runtrue listen compare played.csv --reference reference.flac --format 12in-33",
        role=Role.LISTENER,
        writes=True,
        long=True,
    ),
    Action(
        station="listen",
        verb="ring",
        summary="Print the ring that finds a fault on the disc or the stamper.",
        text=(
            "A sheet at 1:1 with two rings, one for the playing face and one mirrored for the stamper's: laid on the "
            "spindle with its zero at the stated mark, a ray leads to each fault, and the rule below gives its radius. "
            "Wedges and bars show how well the place is known. Wear gloves at a stamper: its edges cut."
        ),
        request=ListenRingRequest,
        result="runtrue.contract.ring:FinderRing",
        function="runtrue.workflow.ring:ring",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable, 5 disk or rights",
        example="runtrue listen ring result.json ring.pdf --side A",
        role=Role.LISTENER,
        writes=True,
        long=False,
    ),
)
"""Comparing copies, and the ring that finds a fault."""
