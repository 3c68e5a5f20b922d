"""What the press prints, by the name of its schema."""

from runtrue.contract.press_cycle import PRESS_CYCLE_SCHEMA, PressCycles

PRESS_RESULTS: dict[str, type] = {
    PRESS_CYCLE_SCHEMA: PressCycles,
}
"""In the order of the job."""
