"""Control charts: limits from a robust phase I, run rules by name, memory charts, run lengths, changes, capability."""

from runtrue.stats.charts.attributes import p_chart, u_chart
from runtrue.stats.charts.capability import Capability, capability
from runtrue.stats.charts.changepoint import ChangePoint, mean_change, rate_change
from runtrue.stats.charts.chart import FEWEST_POINTS, Chart
from runtrue.stats.charts.constants import Factors, factors
from runtrue.stats.charts.memory import Cusum, cusum, ewma
from runtrue.stats.charts.multivariate import TSquare, hotelling
from runtrue.stats.charts.rules import NELSON, RULES, WESTERN_ELECTRIC, Rule, Signal, signals
from runtrue.stats.charts.runlength import cusum_arl, ewma_arl, limit_for, rules_arl, shewhart_arl
from runtrue.stats.charts.variables import Baseline, averages, individuals, phase_one

__all__ = [
    "FEWEST_POINTS",
    "NELSON",
    "RULES",
    "WESTERN_ELECTRIC",
    "Baseline",
    "Capability",
    "ChangePoint",
    "Chart",
    "Cusum",
    "Factors",
    "Rule",
    "Signal",
    "TSquare",
    "averages",
    "capability",
    "cusum",
    "cusum_arl",
    "ewma",
    "ewma_arl",
    "factors",
    "hotelling",
    "individuals",
    "limit_for",
    "mean_change",
    "p_chart",
    "phase_one",
    "rate_change",
    "rules_arl",
    "shewhart_arl",
    "signals",
    "u_chart",
]
