"""Every result that the compound station prints, by the name in its ``schema`` key."""

from runtrue.contract.charge import CHARGE_SCHEMA, ChargeSheet
from runtrue.contract.weighed import WEIGH_SCHEMA, Weighed

COMPOUND_RESULTS: dict[str, type] = {
    CHARGE_SCHEMA: ChargeSheet,
    WEIGH_SCHEMA: Weighed,
}
"""In the order of the job."""
