"""The actions of the press."""

from runtrue.workflow.actions import Action, Role
from runtrue.workflow.press_requests import PressCycleRequest


def _done(_outcome: object) -> int:
    return 0


PRESS = (
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
)
"""Every action of the press, in the order of the job."""
