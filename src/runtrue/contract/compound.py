"""Every result that the compound station prints, by the name in its ``schema`` key."""

from runtrue.contract.batch import BATCH_SCHEMA, FAMILY_SCHEMA, BatchResult, FamilyResult
from runtrue.contract.blend import BLEND_SCHEMA, Blend
from runtrue.contract.charge import CHARGE_SCHEMA, ChargeSheet
from runtrue.contract.compound_store import (
    BALANCE_SCHEMA,
    LOT_SCHEMA,
    SHEET_SCHEMA,
    TRACE_SCHEMA,
    BalanceResult,
    LotResult,
    SheetResult,
    TraceResult,
)
from runtrue.contract.weighed import WEIGH_SCHEMA, Weighed

COMPOUND_RESULTS: dict[str, type] = {
    LOT_SCHEMA: LotResult,
    CHARGE_SCHEMA: ChargeSheet,
    WEIGH_SCHEMA: Weighed,
    BLEND_SCHEMA: Blend,
    BATCH_SCHEMA: BatchResult,
    FAMILY_SCHEMA: FamilyResult,
    SHEET_SCHEMA: SheetResult,
    BALANCE_SCHEMA: BalanceResult,
    TRACE_SCHEMA: TraceResult,
}
"""In the order of the job."""
