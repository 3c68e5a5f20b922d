"""Kappa, gauge study and comparisons against print. Sources and certainty: ``stats_data/README.md`` and each test."""

import csv
from pathlib import Path

import numpy as np
import pytest

from runtrue.stats import agreement, comparison, gauge

DATA = Path(__file__).parent / "stats_data"


def test_m13_fleiss_diagnoses():
    """Fleiss 1971 (read): kappa .430, agreement .5556, chance .2199."""
    with (DATA / "fleiss_diagnoses.csv").open(encoding="utf-8") as file:
        counts = [[int(x) for x in row[1:]] for row in list(csv.reader(file))[1:]]
    found = agreement.fleiss(counts)
    assert (found.kappa, found.agreed, found.chance) == pytest.approx((0.430, 0.5556, 0.2199), abs=5e-4)
    assert found.kappa == pytest.approx(0.43024, abs=5e-6)
    assert found.z == pytest.approx(17.7, abs=0.05)  # as printed by statistics packages for this set (memory)


def test_m14_fleiss_worked_table():
    """10 records, 14 raters, 5 categories, a widely printed table (memory): kappa .210, .378, .213."""
    counts = [
        [0, 0, 0, 0, 14], [0, 2, 6, 4, 2], [0, 0, 3, 5, 6], [0, 3, 9, 2, 0], [2, 2, 8, 1, 1],
        [7, 7, 0, 0, 0], [3, 2, 6, 3, 0], [2, 5, 3, 2, 2], [6, 5, 2, 1, 0], [0, 2, 2, 3, 7],
    ]  # fmt: skip
    found = agreement.fleiss(counts)
    assert (found.kappa, found.agreed, found.chance) == pytest.approx((0.210, 0.378, 0.213), abs=5e-4)


def test_m15_m16_cohen():
    """Textbook tables (memory): .4; and .1304 against .2593 with the same 60 % of agreement."""
    assert agreement.cohen([[20, 5], [10, 15]]).kappa == pytest.approx(0.4, abs=1e-9)
    even, odd = agreement.cohen([[45, 15], [25, 15]]), agreement.cohen([[25, 35], [5, 35]])
    assert (even.kappa, odd.kappa) == pytest.approx((0.1304, 0.2593), abs=5e-5)
    assert even.agreed == odd.agreed == pytest.approx(0.6)


@pytest.fixture(scope="module")
def study_readings():
    readings = np.zeros((3, 10, 3))
    with (DATA / "gauge_rr_aiag.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            readings["ABC".index(row["operator"]), int(row["part"]) - 1, int(row["trial"]) - 1] = float(row["value"])
    return readings


def test_m17_gauge_by_ranges(study_readings):
    """AIAG MSA, 4th edition (read): every printed figure, to its last digit with the rounded factors of the book."""
    found = gauge.gauge_study(study_readings, method="range")
    assert float(np.ptp(study_readings, axis=2).mean()) == pytest.approx(0.3417, abs=5e-5)
    assert float(np.ptp(study_readings.mean(axis=(1, 2)))) == pytest.approx(0.4447, abs=1e-4)
    assert float(np.ptp(study_readings.mean(axis=(0, 2)))) == pytest.approx(3.511, abs=5e-4)
    values = (found.repeatability, found.reproducibility, found.gauge, found.part, found.total)
    assert values == pytest.approx((0.2019, 0.2297, 0.3058, 1.1046, 1.1461), abs=1.5e-4)
    assert found.percent == pytest.approx(26.68, abs=5e-3)
    assert (found.categories, found.word) == (5, "conditional")


def test_m17_factors():
    """K1 .8862 .5908, K2 .7071 .5231, K3 .3146."""
    assert [1 / gauge.factors(n).d2 for n in (2, 3)] == pytest.approx([0.8862, 0.5908], abs=5e-5)
    assert [1 / gauge._single(n) for n in (2, 3, 10)] == pytest.approx([0.7071, 0.5231, 0.3146], abs=5.5e-5)


def test_m18_gauge_by_analysis_of_variance(study_readings):
    """The same readings in the help of a statistics package (read in a public fixture)."""
    found = gauge.gauge_study(study_readings)
    table = found.anova
    squares = [table[key] for key in ("ms_part", "ms_operator", "ms_interaction", "ms_repeatability")]
    assert squares == pytest.approx([9.81799, 1.58363, 0.01994, 0.04598], abs=5.1e-6)
    assert (table["f_interaction"], table["p_interaction"]) == pytest.approx((0.434, 0.974), abs=5e-4)
    assert found.pooled
    variances = (found.repeatability**2, found.reproducibility**2, found.part**2)
    assert variances == pytest.approx((0.03997, 0.05146, 1.08645), abs=5.1e-6)
    assert (found.gauge, found.part, found.total) == pytest.approx((0.30237, 1.04233, 1.08530), abs=5.1e-6)
    assert found.percent == pytest.approx(27.86, abs=5e-3)
    assert found.categories == 4
    assert 1.41 * found.part / found.gauge == pytest.approx(4.86, abs=5e-3)


class TestComparison:
    """Not in the check list; printed examples recalled from the papers and recomputed."""

    @pytest.mark.parametrize(
        ("bad", "n", "low", "high"),
        [
            ((56, 48), (70, 80), 0.0524, 0.3339),
            ((9, 3), (10, 10), 0.1705, 0.8090),
            ((6, 2), (7, 7), 0.0582, 0.8062),
            ((10, 0), (10, 20), 0.6791, 1.0000),
            ((10, 0), (10, 10), 0.6075, 1.0000),
        ],
    )
    def test_newcombe(self, bad, n, low, high):
        """Newcombe, Statistics in Medicine 17 (1998) 873, Table II, method 10 (memory)."""
        assert comparison.compare_shares(bad, n).interval == pytest.approx((low, high), abs=5.1e-5)

    def test_wilson(self):
        """Newcombe 1998, 857, Table I, method 3 (memory)."""
        assert comparison.score_interval(81, 263) == pytest.approx((0.2553, 0.3662), abs=5.1e-5)
        assert comparison.score_interval(15, 148) == pytest.approx((0.0624, 0.1605), abs=5.1e-5)
        assert comparison.score_interval(0, 20) == pytest.approx((0.0, 0.1611), abs=5.1e-5)
        assert comparison.score_interval(1, 29) == pytest.approx((0.0061, 0.1718), abs=5.1e-5)

    def test_fisher_tea(self):
        """Fisher, The Design of Experiments, 1935: 3 of 4 cups told right, one-sided .243, two-sided .486."""
        assert comparison.compare_shares((3, 1), (4, 4)).fisher == pytest.approx(0.4857, abs=5e-5)

    def test_placenta(self):
        """Hollander and Wolfe 1973, p. 69 (memory): W 35, one-sided .1272."""
        x = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
        found = comparison.compare_values(x, [1.15, 0.88, 0.90, 0.74, 1.21])
        assert found.u == 35.0
        assert found.p_value / 2 == pytest.approx(0.1272, abs=5e-5)

    def test_sample_sizes(self):
        """Cohen 1988, Table 2.4.1 (memory): d .5 and .8 at power .80: 64, 26. His 393 and 85 are 394 and 86 exactly."""
        assert [comparison.sample_size_means(d, 1.0) for d in (0.2, 0.5, 0.8)] == [394, 64, 26]
        assert comparison.sample_size_means(0.5, 1.0, power=0.90) == 86
