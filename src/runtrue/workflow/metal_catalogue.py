"""The actions of the stamper station, in the order of the job."""

from typing import TYPE_CHECKING

from runtrue.workflow.actions import Action, Role
from runtrue.workflow.metal_requests import (
    StamperCentreRequest,
    StamperFieldRequest,
    StamperInspectRequest,
    StamperLifeRequest,
    StamperPictureRequest,
    StamperStudyRequest,
    StamperTrendRequest,
)

if TYPE_CHECKING:
    from runtrue.contract.centre import StamperCentre
    from runtrue.contract.life import LifeResult, TrendResult
    from runtrue.contract.metal import MetalResult
    from runtrue.contract.picture import PictureCentreResult

_EXIT = {"pass": 0, "fail": 3, "cannot_judge": 4}


def _done(_outcome: object) -> int:
    return 0


def _by_centre(outcome: "StamperCentre | PictureCentreResult") -> int:
    if outcome.verdict is None:
        return 0 if outcome.offset_um is not None else 4
    return _EXIT[outcome.verdict]


def _by_advice(outcome: "MetalResult") -> int:
    """3 where a piece needs work or goes back, 4 where one was not looked at."""
    words = {piece.advice for piece in outcome.pieces}
    if words & {"refuse", "sand"}:
        return _EXIT["fail"]
    return _EXIT["cannot_judge" if "measure first" in words else "pass"]


def _by_life(outcome: "LifeResult") -> int:
    if outcome.stop is not None and outcome.stop.change:
        return _EXIT["fail"]
    return _EXIT["cannot_judge" if outcome.law is None else "pass"]


def _by_trend(outcome: "TrendResult") -> int:
    if any(row.beyond_already or (row.stop is not None and row.stop.change) for row in outcome.trends):
        return _EXIT["fail"]
    return _EXIT["pass" if any(row.crosses_at is not None for row in outcome.trends) else "cannot_judge"]


METAL: tuple[Action, ...] = (
    Action(
        station="stamper",
        verb="centre",
        summary="Find where the hole must go, from readings under the lens.",
        text=(
            "Fits the groove's centre to radial readings round the turn, leaves out and names what does not belong, "
            "and says how far and which way to move the stamper, whether it is good enough at a limit and at what "
            "odds, and what its offset would do to the pitch of the music. Angles are those of the groove point under "
            "the lens, against the clock as you see the face; readings grow outward."
        ),
        request=StamperCentreRequest,
        result="runtrue.contract.centre:StamperCentre",
        function="runtrue.workflow.metal:centre",
        exit_code=_by_centre,
        exits="0 pass or no limit given, 3 fail, 4 cannot judge, 2 argument or file not usable, 5 disk or rights",
        example="runtrue stamper centre readings.csv --limit-offset-um 65 --format 12in-33 --sheet centre.pdf",
        role=Role.ENGINEER,
        writes=True,
        long=False,
    ),
    Action(
        station="stamper",
        verb="picture",
        summary="Find the centre from a scan or photograph.",
        text=(
            "Finds the hole's edge and the closed groove to a fraction of a pixel and says how far apart their centres "
            "lie. Dust, glare and print are left out, or the picture is refused and the reason given. The doubt that "
            "is printed carries how evenly the scanner travels, which no pixel tells."
        ),
        request=StamperPictureRequest,
        result="runtrue.contract.picture:PictureCentreResult",
        function="runtrue.workflow.metal_picture:picture",
        exit_code=_by_centre,
        exits="0 pass or no limit given, 3 fail, 4 cannot judge, 2 argument or file not usable, 5 disk or rights",
        example="runtrue stamper picture scan.png --um-per-px 84.667 --format 7in-45 --limit-offset-um 200",
        role=Role.ENGINEER,
        writes=True,
        long=False,
    ),
    Action(
        station="stamper",
        verb="field",
        summary="Check a scanner with a measured ring.",
        text=(
            "Measures scans of a ring whose hole and rim were turned in one clamping: what offset the scanner makes "
            "where there is none, its scale, and how its two scales differ. The field file that it writes gives "
            "`stamper picture` its scale and its doubt in place of common practice."
        ),
        request=StamperFieldRequest,
        result="runtrue.contract.field:FieldResult",
        function="runtrue.workflow.metal_field:field",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable, 5 disk or rights",
        example="runtrue stamper field ring1.png ring2.png --um-per-px 84.667 --rim-mm 50 --out field.toml",
        role=Role.ENGINEER,
        writes=True,
        long=False,
    ),
    Action(
        station="stamper",
        verb="study",
        summary="Judge operators and lens: who differs, by how much.",
        text=(
            "Takes the same stampers centred by several people several times and parts the spread into one person's "
            "readings, people, and stampers (analysis of variance with people and stampers at random). Says how well "
            "one centring by anybody is known, and how a single reading scatters."
        ),
        request=StamperStudyRequest,
        result="runtrue.contract.study:CentringStudyResult",
        function="runtrue.workflow.metal_study:study",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable, 5 disk or rights",
        example="runtrue stamper study study.csv --limit-offset-um 65",
        role=Role.ENGINEER,
        writes=False,
        long=False,
    ),
    Action(
        station="stamper",
        verb="inspect",
        summary="Look through a register of metal: family, and accept, sand or refuse.",
        text=(
            "Reads fathers, mothers and stampers with what was gauged and seen, holds the family together, fits the "
            "wedge of each back and says of each piece whether to accept, sand, measure first or refuse it, and why. "
            "What nobody measured is named and never accepted in silence."
        ),
        request=StamperInspectRequest,
        result="runtrue.contract.metal:MetalResult",
        function="runtrue.workflow.metal_register:look_through",
        exit_code=_by_advice,
        exits="0 accept all, 3 sand or refuse, 4 measure first, 2 argument or file not usable, 5 disk or rights",
        example="runtrue stamper inspect register.toml --piece S1",
        role=Role.ENGINEER,
        writes=False,
        long=False,
    ),
    Action(
        station="stamper",
        verb="life",
        summary="Say how long stampers last, and whether a change pays now.",
        text=(
            "Lays a survival curve and Weibull's law through the stampers that were taken off, those taken off sound "
            "counted as such. With the costs of a change and of a bad copy it weighs a change now against the bad "
            "copies to be expected before anyone listens again."
        ),
        request=StamperLifeRequest,
        result="runtrue.contract.life:LifeResult",
        function="runtrue.workflow.metal_life:life",
        exit_code=_by_life,
        exits="0 done, 3 change now, 4 too few for a law, 2 argument or file not usable, 5 disk or rights",
        example="runtrue stamper life retired.csv --now 600 --change-cost 60 --bad-copy-cost 6",
        role=Role.ENGINEER,
        writes=False,
        long=False,
    ),
    Action(
        station="stamper",
        verb="trend",
        summary="Say when noise, treble or ticks will meet their limit.",
        text=(
            "Lays a line through what was measured on the copies of a stamper and says where it meets the limit, with "
            "the interval, or that no trend is sure. With the costs of a change and of a bad copy it says at which "
            "impression a change pays."
        ),
        request=StamperTrendRequest,
        result="runtrue.contract.life:TrendResult",
        function="runtrue.workflow.metal_life:trend",
        exit_code=_by_trend,
        exits="0 done, 3 change now, 4 no trend is sure, 2 argument or file not usable, 5 disk or rights",
        example="runtrue stamper trend copies.csv --limit-noise-db -54",
        role=Role.ENGINEER,
        writes=False,
        long=False,
    ),
)
"""Every action of the station."""
