"""Survival, laws of life and log-rank against print. Sources and certainty: ``stats_data/README.md`` and each test."""

import csv
from pathlib import Path

import numpy as np
import pytest

from runtrue.stats import reliability

DATA = Path(__file__).parent / "stats_data"

SIX_MP = (
    [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35],
    [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0],
)
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
"""Freireich et al., Blood 21 (1963) 699: weeks of remission (from memory; every printed result follows)."""


def lives(name):
    with (DATA / "life_nist.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["set"] == name]
    return [float(row["time"]) for row in rows], [int(row["event"]) for row in rows]


def test_g12_nist_kaplan_meier():
    """NIST/SEMATECH e-Handbook 8.2.1.5 (read)."""
    found = reliability.kaplan_meier(*lives("km_8.2.1.5"))
    assert found.share == pytest.approx([0.95, 0.90, 0.847, 0.794, 0.737, 0.670], abs=5e-4)
    assert list(found.time) == [10, 32, 56, 98, 122, 181]


def test_g13_weibull():
    """NIST/SEMATECH e-Handbook 8.4.1.2 (memory): shape 1.7208, scale 606.5280; log-likelihood -75.135."""
    found = reliability.fit_life(*lives("weibull_20"))
    assert (found.shape, found.scale) == pytest.approx((1.7208, 606.5280), abs=5e-3)
    assert found.log_likelihood == pytest.approx(-75.135, abs=5e-3)


def test_g14_lung():
    """Loprinzi 1994, results as in a public survival manual (read): log-rank 10.3, median 310 (285, 363)."""
    with (DATA / "lung.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    days, died, sex = ([int(row[key]) for row in rows] for key in ("days", "died", "sex"))
    assert (len(rows), sum(died)) == (228, 165)
    found = reliability.log_rank(days, died, sex)
    assert found.chi_square == pytest.approx(10.3, abs=0.05)
    assert found.dof == 1
    assert found.observed == (112.0, 53.0)
    assert found.expected == pytest.approx((91.6, 73.4), abs=0.05)
    assert reliability.kaplan_meier(days, died, transform="log").quantile() == (310.0, 285.0, 363.0)


def test_g15_remission():
    """Freireich 1963 (memory, recomputed)."""
    found = reliability.kaplan_meier(*SIX_MP)
    assert list(found.time) == [6, 7, 10, 13, 16, 22, 23]
    assert found.share == pytest.approx([0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448], abs=5e-4)
    times, ended = SIX_MP[0] + PLACEBO, SIX_MP[1] + [1] * 21
    comparison = reliability.log_rank(times, ended, ["6-MP"] * 21 + ["placebo"] * 21)
    assert comparison.chi_square == pytest.approx(16.8, abs=0.05)
    assert comparison.observed == (9.0, 21.0)
    assert comparison.expected == pytest.approx((19.3, 10.7), abs=0.06)


def test_median_of_the_placebo_is_8_weeks():
    assert reliability.kaplan_meier(PLACEBO, np.ones(21)).quantile()[0] == 8.0
