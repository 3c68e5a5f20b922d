"""Control charts against print. Sources and certainty: ``stats_data/README.md`` and beside each test."""

import csv
from pathlib import Path

import numpy as np
import pytest

from runtrue.stats import charts

DATA = Path(__file__).parent / "stats_data"


def rows(name):
    with (DATA / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def column(name, key):
    return np.array([float(row[key]) for row in rows(name)])


class TestConstants:
    def test_c04_every_printed_factor(self):
        for row in rows("chart_constants.csv"):
            f = charts.factors(int(row["n"]))
            for key in ("A", "A2", "A3", "c4", "B3", "B4", "B5", "B6", "d2", "d3", "D1", "D2", "D3", "D4", "E2"):
                assert getattr(f, key) == pytest.approx(float(row[key]), abs=5.1e-5), (row["n"], key)

    def test_c04_five(self):
        f = charts.factors(5)
        found = (f.d2, f.d3, f.c4, f.A2, f.D4)
        assert found == pytest.approx((2.3259, 0.8641, 0.9400, 0.5768, 2.1145), abs=1e-4)

    def test_c05_closed_forms(self):
        assert charts.factors(2).d2 == pytest.approx(2 / np.sqrt(np.pi), abs=1e-8)
        assert charts.factors(3).d2 == pytest.approx(3 / np.sqrt(np.pi), abs=1e-8)

    def test_slips_of_printed_tables_are_not_ours(self):
        """d3(21) .7272 for .7242, D4(18) 1.662 and 1.607 for 1.609, D4(5) 2.116 for 2.114."""
        assert charts.factors(21).d3 == pytest.approx(0.7242, abs=5e-5)
        assert pytest.approx(1.609, abs=5e-4) == charts.factors(18).D4
        assert pytest.approx(2.114, abs=5.5e-4) == charts.factors(5).D4


class TestNist:
    FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)

    def test_c01_individuals(self):
        """NIST/SEMATECH e-Handbook 6.3.2.2 (read): 50.81, 1.8778, 55.8041, 45.8159 with d2 rounded to 1.128."""
        chart, ranges = charts.individuals(self.FLOW)
        mean, moving = chart.centre[0], ranges.points.mean()
        assert (mean, moving) == pytest.approx((50.81, 1.8778), abs=5e-5)
        assert (mean + 3 * moving / 1.128, mean - 3 * moving / 1.128) == pytest.approx((55.8041, 45.8159), abs=5e-5)
        assert (chart.upper[0], chart.lower[0]) == pytest.approx((55.8041, 45.8159), abs=2e-3)
        assert chart.out == ()
        assert not chart.judged

    def test_c02_ewma(self):
        """6.3.2.4 (read): the printed series; limits 52.5884 and 47.4115 (unrounded 47.4116); no signal."""
        x, printed = column("nist_ewma.csv", "x"), column("nist_ewma.csv", "ewma_printed")
        chart = charts.ewma(x, target=50.0, sigma=2.0539, weight=0.3, steady=True)
        assert chart.points == pytest.approx(printed, abs=5.1e-3)
        assert (chart.upper[0], chart.lower[0]) == pytest.approx((52.5884, 47.4116), abs=5e-5)
        assert pytest.approx(47.4115, abs=1e-4) == 50 - 3 * 0.4201 * 2.0539
        assert chart.out == ()

    def test_c03_cusum(self):
        """6.3.2.3 (read): S_hi and S_lo as printed, first high signal at group 14."""
        x = column("nist_cusum.csv", "xbar")
        found = charts.cusum(x, target=325.0, k=0.3175, h=4.1959)
        assert found.upper == pytest.approx(column("nist_cusum.csv", "S_hi_printed"), abs=5.1e-3)
        assert found.lower == pytest.approx(column("nist_cusum.csv", "S_lo_printed"), abs=5.1e-3)
        assert found.first_signal == 14 - 1
        assert found.high_signals == tuple(range(13, 20))
        assert found.low_signals == ()

    def test_c03_printed_deviations(self):
        """Two of the printed side columns carry a wrong sign (groups 9 and 12 in some copies); ours follow the data."""
        deviation = column("nist_cusum.csv", "xbar") - 325.0
        assert deviation == pytest.approx(column("nist_cusum.csv", "dev_printed"), abs=5.1e-3)

    def test_c09_capability(self):
        """6.1.6 (read)."""
        found = charts.capability(16.0, 2.0, 50, lower=8.0, upper=20.0)
        values = (found.cp, found.upper_index, found.lower_index, found.cpk, found.off_middle)
        assert values == pytest.approx((1.0, 0.6667, 1.3333, 0.6667, 0.3333), abs=5e-5)


def test_c10_interval_of_cp():
    """Montgomery's example (memory, recomputed): Cp 2.29 from 20 values, 1.57 to 3.01."""
    found = charts.capability(0.0, 1.0, 20, lower=-3 * 2.29, upper=3 * 2.29)
    assert found.cp_interval == pytest.approx((1.57, 3.01), abs=5e-3)


def test_c11_interval_of_cpk():
    """Bissell 1990 (computed): 0.625 (0.425, 0.825)."""
    found = charts.capability(97.0, 1.6, 30, upper=100.0)
    assert (found.cpk, *found.cpk_interval) == pytest.approx((0.625, 0.425, 0.825), abs=5e-4)
    assert found.cp is None


class TestRunLengths:
    def test_c06_every_published_row(self):
        for row in rows("arl_published.csv"):
            parameters = dict(part.split("=") for part in row["parameters"].split() if "=" in part)
            shift = float(row["shift_sigma"])
            if row["chart"].startswith("cusum"):
                k, h = float(parameters["k"]), float(parameters["h"])
                head = h / 2 if "head start" in row["parameters"] else 0.0
                two = row["chart"] == "cusum_two_sided"
                found = charts.cusum_arl(k, h, shift, head_start=head, two_sided=two)
            elif row["chart"] == "ewma_two_sided_fixed":
                found = charts.ewma_arl(float(parameters["lambda"]), float(parameters["L"]), shift)
            elif row["parameters"] == "rule 1 only":
                found = charts.shewhart_arl(shift)
            else:
                found = charts.rules_arl(shift=shift)
            printed, recomputed = float(row["arl_published"]), row["arl_recomputed"]
            half = 0.5 * 10.0 ** -len(row["arl_published"].partition(".")[2])
            assert found == pytest.approx(printed, rel=0.01, abs=half), row
            last = 0.51 * 10.0 ** -len(recomputed.partition(".")[2])
            if "Western" not in row["parameters"]:  # that one was simulated there and is exact here
                assert found == pytest.approx(float(recomputed), abs=last), row

    def test_c07_western_electric(self):
        """Champ and Woodall 1987, quoted in NIST/SEMATECH e-Handbook 6.3.2 (read): 91.75."""
        assert charts.rules_arl() == pytest.approx(91.75, abs=5e-3)

    def test_c08_pairs_of_rules(self):
        """Champ and Woodall 1987 (memory): 225.44, 166.05, 152.73, recalled as 225.4, 166.1, 152.7."""
        found = [charts.rules_arl(("beyond_3_sigma", name)) for name in charts.WESTERN_ELECTRIC[1:]]
        assert found == pytest.approx([225.4, 166.1, 152.7], rel=1e-3)

    def test_one_sided_and_two_sided_are_not_mixed(self):
        """k .5: h 4 168 and 335, h 5 465 and 931; published tables mix the two."""
        assert charts.cusum_arl(0.5, 5.0) == pytest.approx(465.0, abs=1.0)
        assert charts.cusum_arl(0.5, 5.0, two_sided=False) == pytest.approx(931.0, abs=1.0)
        assert charts.cusum_arl(0.5, 4.0, two_sided=False) == pytest.approx(335.0, abs=1.0)

    def test_a_misprint_is_not_reproduced(self):
        """Crowder's Table 1 at a shift of 1.25 carries 3.95 for lambda .5, L 2, a likely misprint."""
        assert charts.ewma_arl(0.5, 2.0, 1.25) == pytest.approx(3.59, abs=5e-3)

    def test_six_digits_of_one_value(self):
        """k .25, h 8, shift 2.5: 4.15008373 by quadrature; a value in circulation, 4.1500826715, differs in digit 7."""
        assert charts.cusum_arl(0.25, 8.0, 2.5) == pytest.approx(4.15008, abs=5e-6)


class TestNelson:
    """C12: definitions of Nelson 1984 (memory). Each pattern speaks at its last point and not one point sooner."""

    @pytest.mark.parametrize(
        ("rule", "pattern"),
        [
            ("beyond_3_sigma", [3.1]),
            ("nine_on_one_side", [0.1, 0.2] * 4 + [0.1]),
            ("eight_on_one_side", [-0.1, -0.2] * 4),
            ("six_in_a_trend", [-0.9, -0.5, -0.1, 0.2, 0.4, 0.6]),
            ("fourteen_alternating", [0.5, -0.5] * 7),
            ("two_of_three_beyond_2_sigma", [2.1, 0.0, 2.1]),
            ("four_of_five_beyond_1_sigma", [-1.1, -1.2, 0.0, -1.3, -1.1]),
            ("fifteen_within_1_sigma", [0.4, -0.6, 0.3] * 5),
            ("eight_beyond_1_sigma", [1.2, -1.3, 1.1, 1.4, -1.2, 1.3, -1.1, -1.5]),
        ],
    )
    def test_pattern(self, rule, pattern):
        found = charts.signals(pattern, (rule,))
        assert [(signal.at, signal.begins) for signal in found] == [(len(pattern) - 1, 0)]
        assert charts.signals(pattern[:-1] or [0.0], (rule,)) == ()

    def test_sides_are_not_mixed(self):
        assert charts.signals([2.1, 0.0, -2.1], ("two_of_three_beyond_2_sigma",)) == ()
        assert charts.signals([1.5] * 8, ("eight_beyond_1_sigma",)) == ()


NILE = (
    "1120 1160 963 1210 1160 1160 813 1230 1370 1140 995 935 1110 994 1020 960 1180 799 958 1140 1100 1210 1150 "
    "1250 1260 1220 1030 1100 774 840 874 694 940 833 701 916 692 1020 1050 969 831 726 456 824 702 1120 1100 832 "
    "764 821 768 845 864 862 698 845 744 796 1040 759 781 865 845 944 984 897 822 1010 771 676 649 846 812 742 "
    "801 1040 860 874 848 890 744 749 838 1050 918 986 797 923 975 815 1020 906 901 1170 912 746 919 718 714 740 "
)
"""Flow of the Nile at Aswan 1871 to 1970, 10^8 m3 a year (Cobb 1978; from memory, all printed results follow)."""

COAL = (
    "4 5 4 1 0 4 3 4 0 6 3 3 4 0 2 6 3 3 5 4 5 3 1 4 4 1 5 5 3 4 2 5 2 2 3 4 2 1 3 2 2 1 1 1 1 3 0 0 1 0 1 1 0 0 "
    "3 1 0 3 2 2 0 1 1 1 0 1 0 1 0 0 0 2 1 0 0 0 1 1 0 2 3 3 1 1 2 1 1 1 1 2 4 2 0 0 0 1 4 0 0 0 1 0 0 0 0 0 1 0 "
    "0 1 0 1 "
)
"""British coal-mining disasters a year, 1851 to 1962 (Jarrett 1979; from memory, all printed results follow)."""


def test_g09_nile():
    found = charts.mean_change([float(x) for x in NILE.split()])
    assert found.after == 28  # 1898
    assert (found.before_level, found.after_level) == pytest.approx((1097.75, 849.97), abs=5e-3)
    assert (found.likelihood_ratio, found.cusum) == pytest.approx((57.37, 2.952), abs=1e-2)
    assert found.interval[0] <= 28 <= found.interval[1]
    assert found.p_value < 0.001


def test_g10_coal():
    events = [int(x) for x in COAL.split()]
    assert (len(events), sum(events)) == (112, 191)
    found = charts.rate_change(events)
    assert found.after == 41  # 1891
    assert (found.before_level, found.after_level) == pytest.approx((3.098, 0.901), abs=1e-3)
    assert found.likelihood_ratio == pytest.approx(69.99, abs=1e-2)
    assert found.interval[0] <= 41 <= found.interval[1]
