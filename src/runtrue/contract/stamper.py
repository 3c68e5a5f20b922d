"""Every result that the stamper station prints, by the name in its ``schema`` key."""

from runtrue.contract.centre import CENTRE_SCHEMA, StamperCentre
from runtrue.contract.field import FIELD_SCHEMA, FieldResult
from runtrue.contract.life import LIFE_SCHEMA, TREND_SCHEMA, LifeResult, TrendResult
from runtrue.contract.metal import METAL_SCHEMA, MetalResult
from runtrue.contract.picture import PICTURE_SCHEMA, PictureCentreResult
from runtrue.contract.study import STUDY_SCHEMA, CentringStudyResult

STAMPER_RESULTS: dict[str, type] = {
    CENTRE_SCHEMA: StamperCentre,
    PICTURE_SCHEMA: PictureCentreResult,
    FIELD_SCHEMA: FieldResult,
    STUDY_SCHEMA: CentringStudyResult,
    METAL_SCHEMA: MetalResult,
    LIFE_SCHEMA: LifeResult,
    TREND_SCHEMA: TrendResult,
}
