"""Which page shows which result of the stamper station."""

from collections.abc import Callable
from typing import Any

from runtrue.cli.centre_page import print_centre, print_field, print_picture
from runtrue.cli.metal_page import print_life, print_metal, print_study, print_trend
from runtrue.contract.centre import StamperCentre
from runtrue.contract.field import FieldResult
from runtrue.contract.life import LifeResult, TrendResult
from runtrue.contract.metal import MetalResult
from runtrue.contract.picture import PictureCentreResult
from runtrue.contract.study import CentringStudyResult

_PAGES: dict[type, Callable[[Any], None]] = {
    StamperCentre: print_centre,
    PictureCentreResult: print_picture,
    FieldResult: print_field,
    CentringStudyResult: print_study,
    MetalResult: print_metal,
    LifeResult: print_life,
    TrendResult: print_trend,
}


def print_stamper(outcome: object) -> None:
    """Print the page of a result on stdout."""
    _PAGES[type(outcome)](outcome)
