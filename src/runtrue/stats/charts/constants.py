r"""Factors of control charts for samples from a Gaussian, computed and not typed.

Printed tables carry slips (d3(21) .7272 for .7242, D4(18) 1.662 for 1.609, D4(5) 2.116 for 2.114); integrals do not.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, lgamma, sqrt

import numpy as np
from scipy.special import ndtr

from runtrue.stats.checks import whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """d2, d3: mean and deviation of the range; c4: mean of s; all over sigma, for samples of n.

    Names of the rest are those of the handbooks: A for X-bar (A with sigma known, A2 with the mean range, A3 with the
    mean s), B for s, D for R (5 and 6, 1 and 2 with sigma known), E2 for single values with the mean range.
    """

    n: int
    d2: float
    d3: float
    c4: float

    @property
    def A(self) -> float:  # noqa: N802
        """3 / sqrt(n)."""
        return 3.0 / sqrt(self.n)

    @property
    def A2(self) -> float:  # noqa: N802
        """3 / (d2 sqrt(n))."""
        return 3.0 / (self.d2 * sqrt(self.n))

    @property
    def A3(self) -> float:  # noqa: N802
        """3 / (c4 sqrt(n))."""
        return 3.0 / (self.c4 * sqrt(self.n))

    @property
    def B3(self) -> float:  # noqa: N802
        """Lower factor on the mean s, not below 0."""
        return max(0.0, 1.0 - 3.0 * sqrt(1.0 - self.c4**2) / self.c4)

    @property
    def B4(self) -> float:  # noqa: N802
        """Upper factor on the mean s."""
        return 1.0 + 3.0 * sqrt(1.0 - self.c4**2) / self.c4

    @property
    def B5(self) -> float:  # noqa: N802
        """Lower factor on sigma for s, not below 0."""
        return max(0.0, self.c4 - 3.0 * sqrt(1.0 - self.c4**2))

    @property
    def B6(self) -> float:  # noqa: N802
        """Upper factor on sigma for s."""
        return self.c4 + 3.0 * sqrt(1.0 - self.c4**2)

    @property
    def D1(self) -> float:  # noqa: N802
        """Lower factor on sigma for R, not below 0."""
        return max(0.0, self.d2 - 3.0 * self.d3)

    @property
    def D2(self) -> float:  # noqa: N802
        """Upper factor on sigma for R."""
        return self.d2 + 3.0 * self.d3

    @property
    def D3(self) -> float:  # noqa: N802
        """Lower factor on the mean range, not below 0."""
        return max(0.0, 1.0 - 3.0 * self.d3 / self.d2)

    @property
    def D4(self) -> float:  # noqa: N802
        """Upper factor on the mean range."""
        return 1.0 + 3.0 * self.d3 / self.d2

    @property
    def E2(self) -> float:  # noqa: N802
        """3 / d2."""
        return 3.0 / self.d2


@lru_cache(maxsize=128)
def factors(n: int) -> Factors:
    r"""Factors for samples of n.

    .. math:: F_R(r) = n \int \varphi(x) [\Phi(x + r) - \Phi(x)]^{n-1} dx, \quad
              d_2 = \int_0^\infty (1 - F_R) dr, \quad d_2^2 + d_3^2 = \int_0^\infty 2 r (1 - F_R) dr

    .. math:: c_4 = \sqrt{2 / (n - 1)} \; \Gamma(n / 2) / \Gamma((n - 1) / 2)

    Parameters
    ----------
    n : int
        2 to 100

    Returns
    -------
    factors : Factors

    Examples
    --------
    >>> five = factors(5)
    >>> five.d2, five.d3, five.c4, five.A2, five.D4
    (2.3259, 0.8641, 0.9400, 0.5768, 2.1145)

    References
    ----------
    .. [1] Tippett 1925 for the range; factors as in ASTM MNL 7, 8th edition, Table 6 (equal in every printed digit).
    """
    whole("n", n, 2, 100)
    r, r_weight = _legendre(0.0, 16.0, 160)
    x, x_weight = _legendre(-9.0, 9.0, 160)
    inside = (ndtr(x + r[:, np.newaxis]) - ndtr(x)) ** (n - 1)
    beyond = 1.0 - n * inside @ (x_weight * np.exp(-0.5 * x * x) / sqrt(2.0 * np.pi))
    d2 = float(r_weight @ beyond)
    second = float(r_weight @ (2.0 * r * beyond))
    c4 = sqrt(2.0 / (n - 1)) * exp(lgamma(n / 2.0) - lgamma((n - 1) / 2.0))
    return Factors(n=n, d2=d2, d3=sqrt(second - d2 * d2), c4=c4)


def _legendre(low: float, high: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    half = 0.5 * (high - low)
    return low + half * (nodes + 1.0), half * weights
