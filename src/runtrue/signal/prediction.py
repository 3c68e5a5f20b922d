"""Linear prediction, any number of blocks at once."""

import numpy as np
from numpy.typing import NDArray

Float64 = NDArray[np.float64]

_FLOOR = 1e-9
"""White noise added to every block, re its power: keeps silence and pure tones solvable."""


def predictor(autocorrelation: Float64) -> Float64:
    r"""Inverse filter of the best linear prediction of each block (Levinson and Durbin).

    .. math:: e_n = \sum_{k=0}^{p} a_k x_{n-k}, \quad a_0 = 1

    Parameters
    ----------
    autocorrelation : array (..., p + 1)
        Lags 0 to p of each block

    Returns
    -------
    a : array (..., p + 1)

    Examples
    --------
    >>> predictor(np.array([1.0, 0.5, 0.25])).round(6).tolist()
    [1.0, -0.5, 0.0]

    References
    ----------
    .. [1] Durbin, Rev. Inst. Int. Stat. 28 (1960) 233; as in any text on speech or time series (from memory). Its use
       on ticks of records: Vaseghi and Rayner, IEE Proc. I 137 (1990) 38 (from memory).
    """
    r = np.array(autocorrelation, dtype=np.float64)
    r[..., 0] = r[..., 0] * (1.0 + _FLOOR) + 1e-30
    a = np.zeros_like(r)
    a[..., 0] = 1.0
    error = r[..., 0].copy()
    for order in range(1, r.shape[-1]):
        reflection = -(a[..., :order] * r[..., order:0:-1]).sum(axis=-1) / error
        a[..., 1 : order + 1] += reflection[..., None] * a[..., order - 1 :: -1][..., :order]
        error *= 1.0 - reflection**2
    return a
