"""Linear prediction against a worked check: the gain of an AR(2) process with a = (1.711902, -0.81).

Derived: var(x) / var(e) = (1 - a2) / ((1 + a2) ((1 - a2)^2 - a1^2)) = 27.573, and a one-sample tick matched with the
inverse filter gains 1 + a1^2 + a2^2 = 4.5867 more (Box and Jenkins; Vaseghi and Rayner 1990, from memory).
"""

import numpy as np
import pytest

from runtrue.signal.prediction import predictor

A1, A2 = 1.711902, -0.81


def test_second_order_process() -> None:
    lag = [1.0, A1 / (1.0 - A2)]
    for _ in range(4):
        lag.append(A1 * lag[-1] + A2 * lag[-2])
    a = predictor(np.array(lag))
    assert a.tolist() == pytest.approx([1.0, -A1, -A2, 0.0, 0.0, 0.0], abs=1e-6)
    assert 1.0 / float(a @ lag) == pytest.approx(27.573, abs=1e-3)
    assert float(a @ a) == pytest.approx(4.5867, abs=1e-4)
