"""Acceptance sampling against print. Sources and certainty: ``stats_data/README.md`` and beside each test."""

import csv
from pathlib import Path

import numpy as np
import pytest

from runtrue.errors import InputError
from runtrue.stats import sampling
from runtrue.stats.sampling.plans import _table
from runtrue.stats.sampling.tables import AQLS, UNCONFIRMED_REDUCED

DATA = Path(__file__).parent / "stats_data"
STANDARD = {
    "normal": ("MIL-STD-105E", "normal"),
    "tightened": ("MIL-STD-105E", "tightened"),
    "reduced_105e": ("MIL-STD-105E", "reduced"),
    "reduced": ("GB/T 2828.1-2012", "reduced"),
}


def rows(name):
    with (DATA / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def cell(plan):
    return plan.code_letter, plan.n, plan.accept, plan.refuse


class TestMasterTables:
    def test_every_resolved_cell(self):
        table = rows("single_resolved.csv")
        assert len(table) == 1664
        for row in table:
            standard, severity = STANDARD[row["inspection"]]
            plan = sampling.table_plan(
                row["code_letter"], row["aql"], sampling.Severity(severity), standard=standard, per_hundred_units=True
            )
            assert cell(plan) == (row["plan_code_letter"], int(row["n"]), int(row["Ac"]), int(row["Re"])), row

    def test_s01_s02_letter_l(self):
        """ANSI/ASQ Z1.4 as quoted in a public manual (read)."""
        assert cell(sampling.single_plan(5000, 1.5)) == ("L", 200, 7, 8)
        assert cell(sampling.single_plan(5000, 1.5, severity="tightened")) == ("L", 200, 5, 6)

    def test_s03_s04_s05_gbt_cells(self):
        """GB/T 2828.1-2012, cells checked against the scanned standard (read)."""
        assert cell(sampling.single_plan(2000, 1.0)) == ("K", 125, 3, 4)
        assert cell(sampling.table_plan("K", 1.0, "reduced", standard="GB/T 2828.1-2012")) == ("K", 50, 2, 3)
        assert cell(sampling.table_plan("M", 6.5, "reduced", standard="GB/T 2828.1-2012")) == ("L", 80, 10, 11)

    def test_s06_arrow_takes_its_own_sample(self):
        """MIL-STD-105E Table II-A; a public calculator keeps n = 20, which is wrong."""
        plan = sampling.single_plan(150, 1.5)
        assert plan.table_letter == "F"
        assert cell(plan) == ("G", 32, 1, 2)
        assert plan.n != 20

    def test_s07_s08_s09_border_rows(self):
        assert cell(sampling.table_plan("R", 0.015)) == ("P", 800, 0, 1)
        assert cell(sampling.table_plan("R", 0.025, "tightened")) == ("S", 3150, 1, 2)
        assert cell(sampling.table_plan("H", 1.0, "reduced")) == ("H", 20, 0, 2)

    def test_every_code_letter(self):
        """Table I, all 105 cells, at both ends of every lot range."""
        table = rows("code_letters.csv")
        assert len(table) == 15
        for row in table:
            low, high = int(row.pop("lot_min")), row.pop("lot_max")
            for level, letter in row.items():
                assert sampling.code_letter(low, level) == letter
                assert sampling.code_letter(int(high) if high else 10 * low, level) == letter

    def test_code_letters(self):
        """Corners and the row that a small web page shifts by one (2-8: A, A, B and not A, B, C)."""
        assert [sampling.code_letter(8, level) for level in ("I", "II", "III")] == ["A", "A", "B"]
        assert [sampling.code_letter(9, level) for level in ("I", "II", "III")] == ["A", "B", "C"]
        assert [sampling.code_letter(1200, level) for level in ("S-1", "S-4", "II")] == ["C", "F", "J"]
        assert sampling.code_letter(500_001, "III") == "R"


class TestKnownWrongTables:
    """Errors met in published tables: ours must not have them."""

    @pytest.mark.parametrize(
        ("letter", "aql"),
        [("C", 6.5), ("D", 4.0), ("E", 2.5), ("F", 1.5), ("G", 1.0), ("H", 0.65), ("J", 0.40), ("K", 0.25), ("L", 0.15),
         ("M", 0.10), ("N", 0.065), ("P", 0.040), ("Q", 0.025)],
    )  # fmt: skip
    def test_tightened_diagonal_is_an_arrow_over_two_rows_and_not_zero(self, letter, aql):
        plan = sampling.table_plan(letter, aql, "tightened")
        assert plan.accept == 1
        assert plan.code_letter > letter

    def test_lowest_aql_is_0_010(self):
        assert AQLS[0] == "0.010"
        with pytest.raises(InputError, match=r"AQL '0\.001' is unknown"):
            sampling.table_plan("K", 0.001)

    def test_tightened_a_at_10_is_an_arrow(self):
        plan = sampling.table_plan("A", 10, "tightened")
        assert cell(plan) == ("D", 8, 1, 2)

    def test_unconfirmed_diagonal_carries_a_caution(self):
        for name in UNCONFIRMED_REDUCED:
            letter, _, aql = name.partition("@")
            gbt = sampling.table_plan(letter, aql, "reduced", standard="GB/T 2828.1-2012", per_hundred_units=True)
            assert (gbt.accept, gbt.refuse, bool(gbt.cautions)) == (5, 6, True)
            mil = sampling.table_plan(letter, aql, "reduced", per_hundred_units=True)
            assert (mil.accept, mil.refuse, mil.cautions) == (3, 6, ())

    def test_iso_reduced_is_not_offered_under_that_name(self):
        with pytest.raises(InputError, match="14 cells"):
            sampling.table_plan("K", 1.0, "reduced", standard="ISO 2859-1:1999")

    def test_producer_point_of_200_7(self):
        """One manual puts (1.3 %, .975) on the curve of (200, 7); binomial gives .995. (6.4 %, .054) is right."""
        pa = sampling.acceptance_probability(200, 7, [0.013, 0.064])
        assert pa == pytest.approx([0.995, 0.054], abs=5e-4)

    def test_alpha_of_three_small_plans(self):
        """A textbook figure notes .11, .09, .03 at 0.65 %; binomial gives .122, .096, .018."""
        alphas = [1 - float(sampling.acceptance_probability(n, c, 0.0065)) for n, c in ((20, 0), (80, 1), (500, 7))]
        assert alphas == pytest.approx([0.122, 0.096, 0.018], abs=7e-4)


def test_structure_of_the_tables():
    """Self-check of the typed tables: away from the borders a cell depends only on row number plus column number."""
    printed = {  # sums 14 to 24
        "normal": "0 ^ v 1 2 3 5 7 10 14 21",
        "tightened": "v 0 v v 1 2 3 5 8 12 18",
        "105E": "0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13",
        "GBT": "0 ^ v v 1 2 3 5 6 8 10",
    }
    diagonals = {name: dict(enumerate(text.split(), start=14)) for name, text in printed.items()}
    for name, by_sum in diagonals.items():
        for row, (_, _, cells) in list(enumerate(_table(name)))[2:14]:
            for column, found in enumerate(cells):
                if row + column in by_sum:
                    assert found == by_sum[row + column], (name, row, column)
                elif row + column < 14:
                    assert found == "v"


class TestCurves:
    def test_s10_nist_52_3(self):
        """NIST/SEMATECH e-Handbook 6.2.3.2 (memory; .845 and .739 recalled at 4 and 5 % are .846 and .738)."""
        printed = [0.998, 0.980, 0.930, 0.846, 0.738, 0.620, 0.502, 0.394, 0.300, 0.223, 0.162, 0.115]
        assert sampling.acceptance_probability(52, 3, np.arange(1, 13) / 100) == pytest.approx(printed, abs=5.5e-4)

    def test_s11_cfr(self):
        """US 7 CFR 42.140, OC curve 6: 26 % at 1.0 and about 99 % at 0.10 defects per 100 (read)."""
        pa = sampling.acceptance_probability(500, 3, [0.01, 0.001], model="poisson")
        assert pa == pytest.approx([0.26, 0.99], abs=0.01)
        assert pa == pytest.approx([0.2650, 0.9982], abs=5e-5)

    def test_s12_table_x_j_1(self):
        """MIL-STD-105E Table X-J-1, AQL 1.0 (memory, recomputed), three figures."""
        printed = [0.550, 1.03, 1.39, 2.16, 3.33, 4.84, 6.52, 7.66, 10.1]
        p = 100 * sampling.quality_at(80, 2, [0.99, 0.95, 0.90, 0.75, 0.50, 0.25, 0.10, 0.05, 0.01])
        assert p == pytest.approx(printed, rel=5e-3)

    def test_s13_twenty_zero(self):
        assert float(sampling.acceptance_probability(20, 0, 0.05)) == pytest.approx(0.358, abs=5e-4)

    def test_s15_68_2(self):
        """A consultant's public note of 7 February 2006 (read)."""
        assert sampling.acceptance_probability(68, 2, [0.01213, 0.089704]) == pytest.approx([0.95, 0.05], abs=2e-4)

    def test_s22_three_models(self):
        """Formula, N 300, D 15, n 50, c 1 (computed)."""
        p = 15 / 300
        found = [
            float(sampling.acceptance_probability(50, 1, p, model="hypergeometric", lot_size=300)),
            float(sampling.acceptance_probability(50, 1, p)),
            float(sampling.acceptance_probability(50, 1, p, model="poisson")),
        ]
        assert found == pytest.approx([0.25219, 0.27943, 0.28730], abs=1e-5)

    def test_every_oc_point(self):
        shares = (99, 95, 90, 75, 50, 25, 10, 5, 1)
        for row in rows("oc_points.csv"):
            n, accept, aql = int(row["n"]), int(row["Ac"]), float(row["aql_pct"])
            plan = sampling.table_plan(row["code_letter"], row["aql_pct"])
            assert (plan.n, plan.accept) == (n, accept)
            printed = [float(row[f"p_pct_at_Pa_{share:02d}"]) for share in shares]
            assert 100 * sampling.quality_at(n, accept, np.array(shares) / 100) == pytest.approx(printed, rel=5.1e-4)
            assert float(sampling.acceptance_probability(n, accept, aql / 100)) == pytest.approx(
                float(row["Pa_at_AQL_binomial"]), abs=5.1e-6
            )
            assert float(sampling.acceptance_probability(n, accept, aql / 100, model="poisson")) == pytest.approx(
                float(row["Pa_at_AQL_poisson"]), abs=5.1e-6
            )


class TestDesign:
    def test_s14_two_points(self):
        """Manual of an open library for acceptance sampling (read)."""
        assert sampling.two_point_plan(0.05, 0.15, producer_risk=0.05, consumer_risk=0.075) == (80, 7)

    def test_s16_birolini(self):
        """Birolini, Reliability Engineering 2007, section 7.1 (read): m 3.89, n 195."""
        assert sampling.limiting_quality_size(1, 0.02, 0.10, model="poisson") == 195
        assert pytest.approx(3.89, abs=0.02) == 195 * 0.02

    def test_s18_s19_zero_acceptance(self):
        assert sampling.zero_acceptance_size(0.01) == 299
        assert sampling.zero_acceptance_size(0.01, model="poisson") == 300
        assert sampling.zero_acceptance_size(0.01, 0.90) == 230
        assert sampling.zero_acceptance_size(0.01, 0.90, model="poisson") == 231
        others = ((0.02, 0.95, 149), (0.005, 0.95, 598), (0.05, 0.90, 45), (0.10, 0.90, 22))
        assert all(sampling.zero_acceptance_size(quality, confidence) == n for quality, confidence, n in others)

    @pytest.mark.parametrize(
        ("lot", "bad", "beta", "n"),
        [
            (500, 10, 0.10, 102),
            (1000, 10, 0.10, 205),
            (1000, 10, 0.05, 258),
            (300, 15, 0.10, 42),
            (2000, 20, 0.05, 277),
        ],
    )
    def test_s20_s21_finite_lot(self, lot, bad, beta, n):
        found = sampling.zero_acceptance_size(bad / lot, 1 - beta, model="hypergeometric", lot_size=lot)
        assert found == n

    def test_s20_s21_probabilities(self):
        """The check list prints .09977 for the first; full precision is .099763."""
        pa = [
            float(sampling.acceptance_probability(n, 0, 10 / lot, model="hypergeometric", lot_size=lot))
            for n, lot in ((102, 500), (258, 1000))
        ]
        assert pa == pytest.approx([0.09976, 0.04980], abs=5e-6)

    def test_s26_upper_bound(self):
        """Clopper-Pearson (computed): 0/50 5.82 %, 1/125 3.74 %."""
        assert sampling.share_interval(0, 50, side="upper")[1] == pytest.approx(0.0582, abs=5e-5)
        assert sampling.share_interval(1, 125, side="upper")[1] == pytest.approx(0.0374, abs=5e-5)


class TestSequential:
    def test_s23_lines(self):
        """NIST/SEMATECH e-Handbook 6.2.6 (memory, recomputed); it works with common logarithms, so its k is 1.0414."""
        plan = sampling.sequential_plan(0.01, 0.10)
        assert (plan.k / np.log(10.0), plan.h1, plan.h2, plan.s) == pytest.approx(
            (1.0414, 0.939, 1.205, 0.0397), abs=1e-3
        )
        first = [next(n for n in range(1, 200) if plan.accept_number(n) >= found) for found in range(4)]
        assert first == [24, 49, 74, 100]
        assert next(n for n in range(1, 200) if plan.refuse_number(n) <= n) == 2

    def test_s24_average_sample(self):
        p, acceptance, asn = sampling.wald_curve(sampling.sequential_plan(0.01, 0.10), [1.0, 0.0, -1.0])
        assert asn == pytest.approx([28.0, 29.7, 16.4], abs=0.1)
        assert p == pytest.approx([0.01, 0.0397, 0.10], abs=1e-4)
        assert acceptance[[0, 2]] == pytest.approx([0.95, 0.10], abs=1e-9)


def test_s25_scheme():
    """Stephens and Larson 1967 (read in quotation)."""
    pn = float(sampling.acceptance_probability(200, 7, 0.03))
    pt = float(sampling.acceptance_probability(200, 5, 0.03))
    assert (pn, pt, float(sampling.scheme_acceptance(pn, pt))) == pytest.approx((0.7461, 0.4432, 0.4691), abs=1e-4)
