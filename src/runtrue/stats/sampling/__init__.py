"""Acceptance sampling: tables as printed, plans made for a risk, curves, switching, sequential test, faults in runs."""

from runtrue.stats.sampling.curves import (
    acceptance_probability,
    average_outgoing_quality,
    average_total_inspection,
    curtailed_sample,
    outgoing_quality_limit,
    quality_at,
)
from runtrue.stats.sampling.design import (
    limiting_quality_size,
    share_interval,
    two_point_plan,
    zero_acceptance_size,
)
from runtrue.stats.sampling.plans import STANDARDS, Severity, SinglePlan, code_letter, single_plan, table_plan
from runtrue.stats.sampling.runs import RunRisk, interval_for, run_detection, run_risk, scattered_risk
from runtrue.stats.sampling.sequential import (
    Decision,
    SequentialPlan,
    exact_curve,
    sequential_plan,
    wald_curve,
)
from runtrue.stats.sampling.switching import Rules, Switching, after_lot, scheme_acceptance

__all__ = [
    "STANDARDS",
    "Decision",
    "Rules",
    "RunRisk",
    "SequentialPlan",
    "Severity",
    "SinglePlan",
    "Switching",
    "acceptance_probability",
    "after_lot",
    "average_outgoing_quality",
    "average_total_inspection",
    "code_letter",
    "curtailed_sample",
    "exact_curve",
    "interval_for",
    "limiting_quality_size",
    "outgoing_quality_limit",
    "quality_at",
    "run_detection",
    "run_risk",
    "scattered_risk",
    "scheme_acceptance",
    "sequential_plan",
    "share_interval",
    "single_plan",
    "table_plan",
    "two_point_plan",
    "wald_curve",
    "zero_acceptance_size",
]
