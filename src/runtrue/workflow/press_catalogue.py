"""The actions of the press."""

from typing import TYPE_CHECKING

from runtrue.workflow.actions import Action, Role
from runtrue.workflow.press_requests import (
    PressBiscuitRequest,
    PressCalibrateRequest,
    PressCycleRequest,
    PressRestRequest,
    PressShortenRequest,
    PressTrialRequest,
)

if TYPE_CHECKING:
    from runtrue.contract.press_calibration import PressCalibration
    from runtrue.contract.press_rest import PressRest
    from runtrue.contract.press_shorten import PressShorten
    from runtrue.contract.press_trial import PressTrial

_DONE_OR_NOT = "0 done, 4 cannot judge, 2 argument or file not usable, 5 disk or rights"
_EXITS = {"pass": 0, "fail": 3, "cannot_judge": 4}


def _done(_outcome: object) -> int:
    return 0


def _by_told(outcome: "PressCalibration") -> int:
    return 0 if any(row.told for row in outcome.inputs) else 4


def _by_verdict(outcome: "PressShorten") -> int:
    return _EXITS[outcome.verdict]


def _by_compared(outcome: "PressTrial") -> int:
    return 0 if any(row.differs is not None for row in outcome.rows) else 4


def _by_rest(outcome: "PressRest") -> int:
    return 0 if outcome.rest_h is not None else 4


PRESS = (
    Action(
        station="press",
        verb="biscuit",
        summary="Work out the biscuit for a record: size, flash, time on the table, pressure.",
        text=(
            "From the mass or thickness of the finished record: mass and height of the biscuit with its flash, the "
            "mould for the contraction, how long it warms on a steam table, how it cools while it waits, mean pressure "
            "from the press's force, and the race between spreading and the frozen skin, as a trend."
        ),
        request=PressBiscuitRequest,
        result="runtrue.contract.press_biscuit:PressBiscuit",
        function="runtrue.workflow.press_biscuit:biscuit",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable",
        example="runtrue press biscuit --format 12in-33 --mass-g 140 --force-kn 1471",
        role=Role.ENGINEER,
        writes=False,
        long=False,
    ),
    Action(
        station="press",
        verb="cycle",
        summary="Work out a press cycle: temperatures, earliest opening, steam and water.",
        text=(
            "Follows the heat from the steam through mould and stamper into the record, over any programme of steam, "
            "hold and water, and says how hot the stamper's face and the middle of the record are when the press "
            "opens, how long the skin could flow, from when on it could open, and what matters most. Bands are those "
            "of a press nobody has measured until a calibration is given. No figure is a safe setting."
        ),
        request=PressCycleRequest,
        result="runtrue.contract.press_cycle:PressCycles",
        function="runtrue.workflow.press_cycle:cycle",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable, 5 disk or rights",
        example="runtrue press cycle cycle.toml",
        role=Role.ENGINEER,
        writes=False,
        long=False,
    ),
    Action(
        station="press",
        verb="calibrate",
        summary="Fit films and contacts to a thermocouple log of this press.",
        text=(
            "Fits what no drawing tells, the films of steam and water and the contacts, to a log of thermocouples over "
            "a cycle, with 95 % limits; the couples' offsets, the log's clock and the mould's start are fitted along. "
            "Says what the log cannot tell, what it cannot tell apart, and which couple would. --json prints what "
            "`press shorten` and `press cycle` take as --calibration."
        ),
        request=PressCalibrateRequest,
        result="runtrue.contract.press_calibration:PressCalibration",
        function="runtrue.workflow.press_calibrate:calibrate_press",
        exit_code=_by_told,
        exits=_DONE_OR_NOT,
        example="runtrue press calibrate cycle.toml press-log.csv",
        role=Role.ENGINEER,
        writes=False,
        long=False,
    ),
    Action(
        station="press",
        verb="shorten",
        summary="Weigh some seconds less: output gained against the odds of what it costs.",
        text=(
            "Works the running press at both settings with what its log left open and what differs from record to "
            "record. Says the output gained, the odds that a record opens too hot, that more are warped after 24 h and "
            "that more do not fill (both only from the plant's own counts), what the doubt comes from, and the trial "
            "that would prove it. A press that is not calibrated cannot be judged; then it says what to log."
        ),
        request=PressShortenRequest,
        result="runtrue.contract.press_shorten:PressShorten",
        function="runtrue.workflow.press_shorten:shorten",
        exit_code=_by_verdict,
        exits="0 pass, 3 fail, 4 cannot judge, 2 argument or file not usable, 5 disk or rights",
        example="runtrue press shorten cycle.toml --by-s 2 --calibration calibration.json",
        role=Role.ENGINEER,
        writes=False,
        long=True,
    ),
    Action(
        station="press",
        verb="trial",
        summary="Compare two settings by records pressed at both, with warp after 24 h.",
        text=(
            "Lays the records of one setting beside those of another: warp after 24 h, noise, mass, non-fill. Says "
            "what differs, by how much with its interval, and how many records would show what this trial did not. "
            "The probabilities count that several things are looked at."
        ),
        request=PressTrialRequest,
        result="runtrue.contract.press_trial:PressTrial",
        function="runtrue.workflow.press_trial:trial",
        exit_code=_by_compared,
        exits=_DONE_OR_NOT,
        example="runtrue press trial trial.csv --warp-limit-mm 1.5",
        role=Role.ENGINEER,
        writes=False,
        long=False,
    ),
    Action(
        station="press",
        verb="rest",
        summary="Say when the middle of a pile has cooled.",
        text=(
            "Follows a pile of records, with plates between them or without, through the room's air, and says after "
            "how many hours its middle is below a temperature, with the range that the room and the pile leave open."
        ),
        request=PressRestRequest,
        result="runtrue.contract.press_rest:PressRest",
        function="runtrue.workflow.press_rest:rest",
        exit_code=_by_rest,
        exits=_DONE_OR_NOT,
        example="runtrue press rest pile.toml --below-degc 30 --laid-at 14:05",
        role=Role.ANYONE,
        writes=False,
        long=False,
    ),
)
"""Every action of the press, in the order of the job."""
