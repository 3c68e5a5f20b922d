r"""Off-centre, speed and turn from the time line.

The model of the line is that of the disc's frame: with u the programme time less the offset's own term,

.. math:: t = \text{drift} + \frac{e}{2\pi f r \cos b}\sin(\alpha - b - 2\pi f u)
          + \frac{p}{2\pi f}\sin(2\pi f_p t_p + \varphi) + \text{wow}

(first order in e/r; what is left out is below (e/r)^2, 0.004 % of the offset at 0.2 mm). Offset and the player's own
swing p are linear in it; turn frequency, radius and arm angle enter by their derivatives with their priors. The wow
that no model holds is coloured, so speeds (first differences) are fitted by generalised least squares: an
autoregressive model of the residual whitens rows and columns alike. The covariance is that of the whitened fit plus
the priors, with the freedom of the residual's spectrum (rows over order).
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_toeplitz

from runtrue.disc.arm import UNKNOWN_OFFSET_RANGE, Arm
from runtrue.disc.frame import TURN_SPREAD_U95, Frame, Spiral
from runtrue.listen.heard import HeardCentre
from runtrue.listen.line import Line, Piece
from runtrue.listen.setting import Setting
from runtrue.stats.plane import plane_vector

Float64 = NDArray[np.float64]

BINS_PER_TURN = 12
_NORMAL_95 = 1.959964
_CIRCLE_95 = 2.447747
_ORDERS = (2, 4, 6, 8, 12)
_FEWEST_TURNS = 6.0
JUMP_SPREAD = 0.03
"""A jump lands within this of whole turns [s]."""
_LARGEST_DELAY_SD = 40e-6
"""A bin whose delay is known worse than this [s] is left out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """Programme time over capture time [s] at even steps, shape (n,) each.

    ``run`` numbers the unbroken stretches; ``turned`` is the programme time the groove has behind it: what an edit
    left out was never cut, so it turns no angle.
    """

    step: float
    capture: Float64
    programme: Float64
    run: NDArray[np.int64]
    turned: Float64


@dataclass(frozen=True, slots=True, kw_only=True)
class CentreFit:
    """What the fit gives: speed [-] with U95, the disc's frame, and the centre (``reason`` where it cannot be told)."""

    centre: HeardCentre
    frame: Frame
    turn_fitted: bool
    speed: float | None
    speed_u95: float | None
    reason: str = ""


def spiral_of(setting: Setting, duration: float) -> Spiral:
    """Radius along a side of ``duration`` [s]; an end radius not given follows from the nominal pitch."""
    if setting.end_radius is not None:
        end, end_u95 = setting.end_radius, setting.end_radius_u95
    else:
        width = setting.turn_frequency * duration * setting.pitch
        end = max(setting.start_radius - width, 0.03)
        end_u95 = float(np.hypot(setting.start_radius_u95, setting.pitch_spread * width))
    return Spiral(
        start=setting.start_radius, start_u95=setting.start_radius_u95, end=end, end_u95=end_u95, duration=duration
    )


def track_of(line: Line, *, duration: float, turn_frequency: float) -> Track:
    """The time line every twelfth of a turn; stretches in which too little was heard are left out."""
    capture, programme, run, turned = [], [], [], []
    runs = 0
    step = 0.0
    left_out = 0.0
    for index, piece in enumerate(line.pieces):
        if index:
            left_out += edited(line.pieces[index - 1], piece, turn=1.0 / turn_frequency)
        width = max(1, round(1.0 / (turn_frequency * BINS_PER_TURN * piece.step)))
        step = width * piece.step
        count = len(piece.programme) // width
        if count < 2:
            continue
        rows = (count, width)
        # the middle knot, not the mean: a mean over a twelfth of a turn would take 1.1 % off the once-a-turn part
        values = piece.programme[: count * width].reshape(rows)[:, width // 2]
        information = piece.weight[: count * width].reshape(rows)
        times = piece.start + step * np.arange(count) + (width // 2) * piece.step
        heard = information.sum(axis=1) > 1.0 / _LARGEST_DELAY_SD**2
        heard &= (information > 0.05 * np.median(information, axis=1, keepdims=True)).mean(axis=1) > 0.3
        good = heard & (values > 0.0) & (values < duration)
        starts = good & ~np.concatenate([[False], good[:-1]])
        numbers = runs + np.cumsum(starts)
        runs = int(numbers[-1]) if len(numbers) else runs
        capture.append(times[good])
        programme.append(values[good])
        run.append(numbers[good])
        turned.append(values[good] - left_out)
    if not capture:
        empty = np.zeros(0)
        return Track(step=1.0, capture=empty, programme=empty, run=empty.astype(np.int64), turned=empty)
    return Track(
        step=step,
        capture=np.concatenate(capture),
        programme=np.concatenate(programme),
        run=np.concatenate(run),
        turned=np.concatenate(turned),
    )


def shift_of(before: Piece, after: Piece) -> float:
    """Programme time gained by changing from one piece to the next [s]."""
    return float(after.at(np.array([before.end]))[0]) - float(before.programme[-1])


def edited(before: Piece, after: Piece, *, turn: float) -> float:
    """Programme time an edit between two pieces leaves out [s]; 0 where the stylus jumped whole turns."""
    shift = shift_of(before, after)
    return 0.0 if abs(shift - round(shift / turn) * turn) < JUMP_SPREAD and round(shift / turn) else shift


def fit_centre(track: Track, setting: Setting, *, duration: float) -> CentreFit:
    """Fit offset, player's swing, turn and speed to ``track`` with the priors of ``setting``."""
    spiral = spiral_of(setting, duration)
    nominal = Frame(
        turn_frequency=setting.turn_frequency,
        turn_frequency_u95=TURN_SPREAD_U95 * setting.turn_frequency,
        spiral=spiral,
    )
    fit = _Fit(track, setting, spiral)
    if fit.turns < _FEWEST_TURNS or fit.rows < 40:
        reason = f"only {fit.turns:.1f} turns were heard well enough; {_FEWEST_TURNS:.0f} or more are needed"
        return CentreFit(
            centre=HeardCentre(reason=reason),
            frame=nominal,
            turn_fitted=False,
            speed=None,
            speed_u95=None,
            reason=reason,
        )
    fit.solve()
    x, y = fit.estimate[0], fit.estimate[1]
    covariance = fit.covariance(0, 1)
    played = plane_vector(x, y, covariance, dof=fit.freedom)
    disc = plane_vector(x, y, covariance, slack=setting.slack, dof=fit.freedom)
    free = fit.free_of_swing()
    separated: tuple[str, ...] = ()
    swing = None
    if setting.player_swing > 0.0:
        implied = setting.player_swing / _CIRCLE_95 * float(spiral.radius(track.programme).mean())
        if free < 0.5 * implied:
            separated = ("player_swing",)
            swing = float(np.hypot(fit.estimate[2], fit.estimate[3]))
    sd = sqrt(fit.posterior[4, 4])
    fitted = sd < 0.5 * TURN_SPREAD_U95 / _NORMAL_95
    frame = nominal
    if fitted:
        frequency = setting.turn_frequency * (1.0 + fit.estimate[4])
        frame = Frame(
            turn_frequency=frequency, turn_frequency_u95=_NORMAL_95 * sd * setting.turn_frequency, spiral=spiral
        )
    return CentreFit(
        centre=HeardCentre(played=played, disc=disc, placings=1, player_swing=swing, separated=separated),
        frame=frame,
        turn_fitted=fitted,
        speed=fit.speed,
        speed_u95=fit.speed_u95,
    )


class _Fit:
    """Generalised least squares on speeds. Parameters: x, y [m]; swing x, y [-]; turn, start, end, arm as offsets."""

    NAMES = ("x", "y", "swing_x", "swing_y", "turn", "start", "end", "lean")

    def __init__(self, track: Track, setting: Setting, spiral: Spiral) -> None:
        self.track, self.setting, self.spiral = track, setting, spiral
        same = track.run[1:] == track.run[:-1]
        self._pairs = np.flatnonzero(same)
        self._runs = track.run[self._pairs]
        self.rows = len(self._pairs)
        self.turns = self.rows * track.step * setting.turn_frequency
        self.estimate = np.zeros(len(self.NAMES))
        lean_sd = 0.0 if setting.arm.known else (UNKNOWN_OFFSET_RANGE[1] - UNKNOWN_OFFSET_RANGE[0]) / sqrt(12.0)
        swing_sd = setting.player_swing / _CIRCLE_95
        self._prior_sd = np.array(
            [np.inf, np.inf, swing_sd, swing_sd, TURN_SPREAD_U95 / _NORMAL_95,
             spiral.start_u95 / _NORMAL_95, spiral.end_u95 / _NORMAL_95, lean_sd]
        )  # fmt: skip
        self.posterior = np.zeros((len(self.NAMES),) * 2)
        self.freedom = 1.0
        self.speed = 0.0
        self.speed_u95 = 0.0

    def solve(self) -> None:
        """Iterate linearisation and whitening to rest."""
        speed = np.diff(self.track.programme)[self._pairs] / self.track.step - 1.0
        coefficients = np.zeros(0)
        for iteration in range(5):
            columns, offset = self._columns()
            response = speed - offset
            drift = self._drift()
            design = np.hstack([columns, drift])
            whitened, target, kept = self._whitened(design, response, coefficients)
            solution, inverse, variance = self._least_squares(whitened, target)
            residual = response - design @ solution
            if iteration < 3:
                coefficients = self._autoregression(residual)
            count = len(self.NAMES)
            self.posterior = inverse[:count, :count]
            self._whole_inverse, self._whitened_rows, self._variance = inverse, whitened, variance
            self.estimate = self.estimate + solution[:count]
            self.speed_u95 = _NORMAL_95 * sqrt(inverse[count, count])
            self.freedom = max(3.0, kept / max(1, len(coefficients)))
        self.speed = self._mean_speed()

    def _mean_speed(self) -> float:
        """Programme over capture time less one between the first and the last point, jumps and edits taken out."""
        smooth = self.track.programme - self._terms() @ self.estimate[:4]
        gaps = np.diff(smooth) - np.diff(self.track.capture)
        broken = np.abs(gaps) > 0.3 / self.setting.turn_frequency
        return float(gaps[~broken].sum() / np.diff(self.track.capture)[~broken].sum())

    def covariance(self, i: int, j: int) -> tuple[float, float, float]:
        """Posterior covariance of two parameters."""
        p = self.posterior
        return float(p[i, i]), float(p[i, j]), float(p[j, j])

    def free_of_swing(self) -> float:
        """Standard deviation per axis the offset would have if the player's swing were quite unknown [m]."""
        precision = self._whitened_rows.T @ self._whitened_rows / self._variance + np.diag(self._precision(free=True))
        inverse = _inverse(precision)
        return sqrt(0.5 * (inverse[0, 0] + inverse[1, 1]))

    def _precision(self, *, free: bool = False) -> Float64:
        sd = np.concatenate([self._prior_sd, np.full(2, np.inf)])
        if free:
            sd = np.where(np.isin(np.arange(len(sd)), (2, 3)) & (sd > 0), 1.0, sd)
        with np.errstate(divide="ignore"):
            return np.where(sd > 0.0, 1.0 / sd**2, 1e30)

    def _least_squares(self, rows: Float64, target: Float64) -> tuple[Float64, Float64, float]:
        variance = 1.0
        solution = np.zeros(rows.shape[1])
        inverse = np.zeros((rows.shape[1],) * 2)
        prior = self._precision()
        pull = np.concatenate([-self.estimate, np.zeros(2)]) * np.where(np.isfinite(prior), prior, 0.0)
        normal, moment = rows.T @ rows, rows.T @ target
        variance = float(target @ target) / len(target)
        for _ in range(3):
            inverse = _inverse(normal / variance + np.diag(prior))
            solution = inverse @ (moment / variance + pull)
            rest = target - rows @ solution
            variance = float(rest @ rest) / max(1, len(target) - 6)
        return solution, inverse, variance

    def _drift(self) -> Float64:
        capture = self.track.capture[self._pairs]
        middle = 0.5 * (capture[0] + capture[-1])
        half = max(1e-9, 0.5 * (capture[-1] - capture[0]))
        return np.stack([np.ones(self.rows), (capture - middle) / half], axis=1)

    def _terms(self, *, turn: float = 0.0, start: float = 0.0, end: float = 0.0, lean: float = 0.0) -> Float64:
        """The linear columns (x, y, swing x, swing y) in delay, shape (n, 4), nuisances moved from the estimate."""
        e = self.estimate
        frequency = self.setting.turn_frequency * (1.0 + e[4] + turn)
        spiral = Spiral(
            start=self.spiral.start + e[5] + start, start_u95=0.0, end=self.spiral.end + e[6] + end, end_u95=0.0,
            duration=self.spiral.duration,
        )  # fmt: skip
        time = self.track.turned
        angle = 2.0 * pi * frequency * time
        total = np.zeros((len(time), 4))
        # the angle of the groove under the stylus leaves the offset's own term out of programme time
        inner = time.copy()
        for _ in range(3):
            radius = spiral.radius(np.clip(inner, 0.0, spiral.duration))
            b = self.setting.arm.lean(radius) + (0.0 if self.setting.arm.known else e[7] + lean)
            angle = 2.0 * pi * frequency * inner
            scale = 1.0 / (2.0 * pi * frequency * radius * np.cos(b))
            total[:, 0] = -np.sin(angle + b) * scale
            total[:, 1] = np.cos(angle + b) * scale
            inner = time - total[:, :2] @ e[:2]
        platter = angle + _platter_lag(self.setting.arm, spiral.radius(inner), spiral.start)
        total[:, 2] = np.sin(platter) / (2.0 * pi * frequency)
        total[:, 3] = -np.cos(platter) / (2.0 * pi * frequency)
        return total

    def _columns(self) -> tuple[Float64, Float64]:
        """Design columns in speed, shape (rows, 8), and the model's speed at the estimate, shape (rows,)."""
        linear = self._terms()
        model = linear @ self.estimate[:4]
        steps = {"turn": 1e-6, "start": 1e-5, "end": 1e-5, "lean": 1e-4}
        moved = []
        for index, (name, by) in enumerate(steps.items()):
            if self._prior_sd[4 + index] == 0.0:
                moved.append(np.zeros(len(model)))
                continue
            changed = self._terms(**{name: by}) @ self.estimate[:4]
            moved.append((changed - model) / by)
        delays = np.column_stack([linear, *moved, model])
        speeds = np.diff(delays, axis=0)[self._pairs] / self.track.step
        return speeds[:, :-1], speeds[:, -1]

    def _whitened(self, design: Float64, response: Float64, coefficients: Float64) -> tuple[Float64, Float64, int]:
        """Rows and response through the whitening filter; rows without a full past are dropped."""
        order = len(coefficients)
        rows, target = design[order:].copy(), response[order:].copy()
        for k, a in enumerate(coefficients, start=1):
            rows -= a * design[order - k : len(design) - k]
            target -= a * response[order - k : len(response) - k]
        whole = self._runs[order:] == self._runs[: len(self._runs) - order]
        return rows[whole], target[whole], int(whole.sum())

    def _autoregression(self, residual: Float64) -> Float64:
        """Coefficients of the order that Akaike's criterion prefers, from the residual's autocovariance within runs."""
        longest = min(max(_ORDERS), max(2, self.rows // 12))
        covariance = np.array([_lagged(residual, self._runs, k) for k in range(longest + 1)])
        best, chosen = np.inf, np.zeros(0)
        for order in (o for o in _ORDERS if o <= longest):
            a = solve_toeplitz(
                covariance[:order] + 1e-9 * covariance[0] * (np.arange(order) == 0), covariance[1 : order + 1]
            )
            variance = max(covariance[0] - a @ covariance[1 : order + 1], 1e-12 * covariance[0])
            criterion = self.rows * np.log(variance) + 2.0 * order
            if criterion < best:
                best, chosen = criterion, a
        return np.asarray(chosen)


def _lagged(residual: Float64, runs: NDArray[np.int64], lag: int) -> float:
    same = runs[lag:] == runs[: len(runs) - lag]
    product = residual[lag:][same] * residual[: len(residual) - lag][same]
    return float(product.sum()) / len(residual)


def _platter_lag(arm: Arm, radius: Float64, start: float) -> Float64:
    """By how much the platter's angle leads the disc's angle under the stylus since the start [rad]."""
    return arm.polar_angle(radius) - arm.polar_angle(np.asarray(start))


def _inverse(matrix: Float64) -> Float64:
    """Inverse of a positive definite matrix whose scales differ by many orders."""
    scale = 1.0 / np.sqrt(np.diag(matrix))
    return np.asarray(np.linalg.inv(matrix * np.outer(scale, scale)) * np.outer(scale, scale))
