"""How long stampers, styli and machines last: survival, laws of life, comparison of groups, trend to a limit."""

from runtrue.stats.reliability.life import Law, Life, fit_life
from runtrue.stats.reliability.survival import LogRank, Survival, kaplan_meier, log_rank
from runtrue.stats.reliability.trend import Trend, trend_to_limit

__all__ = [
    "Law",
    "Life",
    "LogRank",
    "Survival",
    "Trend",
    "fit_life",
    "kaplan_meier",
    "log_rank",
    "trend_to_limit",
]
