"""What the press prints, by the name of its schema."""

from runtrue.contract.press_biscuit import PRESS_BISCUIT_SCHEMA, PressBiscuit
from runtrue.contract.press_calibration import PRESS_CALIBRATION_SCHEMA, PressCalibration
from runtrue.contract.press_cycle import PRESS_CYCLE_SCHEMA, PressCycles
from runtrue.contract.press_rest import PRESS_REST_SCHEMA, PressRest
from runtrue.contract.press_shorten import PRESS_SHORTEN_SCHEMA, PressShorten
from runtrue.contract.press_trial import PRESS_TRIAL_SCHEMA, PressTrial

PRESS_RESULTS: dict[str, type] = {
    PRESS_BISCUIT_SCHEMA: PressBiscuit,
    PRESS_CYCLE_SCHEMA: PressCycles,
    PRESS_CALIBRATION_SCHEMA: PressCalibration,
    PRESS_SHORTEN_SCHEMA: PressShorten,
    PRESS_TRIAL_SCHEMA: PressTrial,
    PRESS_REST_SCHEMA: PressRest,
}
"""In the order of the job."""
