r"""One batch in the mixer: energy, temperature and time at dump, heat balance and peaks, from power against time."""

from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.stats.checks import same_length, vector, within
from runtrue.types import Measurement

_Array = NDArray[np.float64]

DROP = 0.1
"""After the dump the net power stays below this share of its peak (our choice)."""
PROMINENT = 0.08
"""A peak stands out of the curve by this share of the largest net power, and by four times its noise (our choice)."""
CURVE_POINTS = 64
"""Points of a curve from the first reading to the dump."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixerLog:
    """Time [s], power [W] and temperature [K] of a batch, one length, time growing from reading to reading."""

    time: _Array
    power: _Array
    temperature: _Array

    def __post_init__(self) -> None:
        """Refuse a log that runs backwards."""
        for name in ("time", "power", "temperature"):
            vector(name, getattr(self, name), least=2)
        same_length(time=self.time, power=self.power, temperature=self.temperature)
        if np.any(np.diff(self.time) <= 0.0):
            place = int(np.argmax(np.diff(self.time) <= 0.0)) + 1
            raise InputError(
                f"reading {place + 1}: time {self.time[place]:g} s does not come after {self.time[place - 1]:g} s; a "
                f"log "
                "runs forward: put the readings in order, or split two batches"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixer:
    """What is known of the batch and its gauges.

    ``mass`` [kg], ``heat_capacity`` [J/(kg K)] and ``idle`` power of the empty mixer [W] are None where not known;
    ``dump`` is the time of the dump [s], else it is found. U95: ``power_u95``, ``mass_u95``, ``capacity_u95`` relative,
    ``temperature_u95`` [K].
    """

    mass: float | None = None
    heat_capacity: float | None = None
    idle: float | None = None
    dump: float | None = None
    power_u95: float = 0.02
    mass_u95: float = 0.005
    temperature_u95: float = 2.0
    capacity_u95: float = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """A peak of net power [W] at a time [s], with the net energy up to it [J]."""

    time: float
    power: float
    energy: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixed:
    """A batch as its log tells it.

    ``dump`` [s] with its U95 and how it is known; ``energy`` net up to it [J] with its U95; ``peak_power`` of the
    smoothed net power [W]; ``peaks`` in time; ``start`` and ``end`` temperature [K]; ``curve`` net power [W] at equal
    steps from the first reading to the dump.
    """

    mixer: Mixer
    dump: float
    dump_u95: float
    dump_known: str
    peak_power: float
    energy: float
    energy_u95: float
    start: float
    end: float
    end_u95: float
    peaks: tuple[Peak, ...]
    curve: _Array


def mixed(log: MixerLog, mixer: Mixer) -> Mixed:
    r"""Measure a batch.

    .. math:: E = \int_0^{t_d} (P - P_0) \, dt

    by the trapezoid rule; what coarse readings leave open is a third of the change when every other one is left out.

    Parameters
    ----------
    log : MixerLog
        Readings, 2 or more
    mixer : Mixer
        What is known

    Returns
    -------
    found : Mixed

    Examples
    --------
    >>> import numpy as np
    >>> t = np.arange(0.0, 101.0)
    >>> found = mixed(MixerLog(time=t, power=np.full(101, 36e3), temperature=300.0 + t), Mixer(mass=10.0))
    >>> found.energy / 10.0 / 3.6e6, found.end
    (0.1, 400.0)

    References
    ----------
    .. [1] Specific energy as the integral of net power over the mass: Cooling impact on rubber mixing (read).
    """
    idle = mixer.idle or 0.0
    net = log.power - idle
    dump, known = _dump(log, net, mixer)
    inside = log.time <= dump + 1e-9
    time, power = log.time[inside], net[inside]
    if time.size < 2:
        raise InputError(f"dump at {dump:g} s leaves fewer than two readings before it; correct it")
    energy = float(np.trapezoid(power, time))
    halved = np.unique(np.append(np.arange(0, time.size, 2), time.size - 1))
    coarse = abs(energy - float(np.trapezoid(power[halved], time[halved]))) / 3.0
    end = float(np.interp(dump, log.time, log.temperature))
    step = float(np.diff(time)[-1])
    slope = abs(float(log.temperature[inside][-1] - log.temperature[inside][-2])) / step
    grid = np.linspace(time[0], dump, CURVE_POINTS)
    return Mixed(
        mixer=mixer,
        dump=dump - float(log.time[0]),
        dump_u95=0.0 if known == "stated" else step,
        dump_known=known,
        peak_power=float(_smooth(power).max()),
        energy=energy,
        energy_u95=hypot(mixer.power_u95 * abs(energy), coarse),
        start=float(log.temperature[0]),
        end=end,
        end_u95=hypot(mixer.temperature_u95, 0.5 * slope * step),
        peaks=_peaks(time, power),
        curve=np.interp(grid, time, power),
    )


def temperature_step(*, specific_energy: float, loss: float, heat_capacity: float) -> float:
    r"""Rise of temperature [K] of a batch: dT = SE (1 - loss) / c.

    Parameters
    ----------
    specific_energy : float
        [J/kg]
    loss : float
        Share that does not heat the batch [-]
    heat_capacity : float
        [J/(kg K)], above 0

    Examples
    --------
    >>> temperature_step(specific_energy=0.10 * 3.6e6, loss=0.5, heat_capacity=1030.0)
    174.757

    References
    ----------
    .. [1] myengineeringtools.com, temperature rise in kneading (form read); heat balance.
    """
    within("heat_capacity", heat_capacity, 0.0, above=True)
    return specific_energy * (1.0 - loss) / heat_capacity


def measurements(found: Mixed) -> tuple[Measurement, ...]:
    """What the log says of the batch, each with its U95; what is not known stands with its reason."""
    mixer = found.mixer
    no_mass = "the mass of the batch is not stated"
    rows = [
        Measurement(quantity="dump_temperature", value=found.end, u95=found.end_u95),
        Measurement(quantity="dump_time", value=found.dump, u95=found.dump_u95),
        Measurement(quantity="peak_power", value=found.peak_power, u95=mixer.power_u95 * abs(found.peak_power)),
    ]
    if mixer.mass is None:
        names = ("specific_energy", "second_peak_energy", "mixing_loss")
        return (*rows, *(Measurement(quantity=name, value=None, reason=no_mass) for name in names))
    energy = found.energy / mixer.mass
    relative = hypot(found.energy_u95 / found.energy, mixer.mass_u95) if found.energy else mixer.mass_u95
    rows.append(Measurement(quantity="specific_energy", value=energy, u95=abs(energy) * relative))
    if len(found.peaks) > 1:
        second = found.peaks[1].energy / mixer.mass
        rows.append(Measurement(quantity="second_peak_energy", value=second, u95=abs(second) * relative))
    else:
        reason = "the power shows no second peak"
        rows.append(Measurement(quantity="second_peak_energy", value=None, reason=reason))
    return (*rows, _loss(found, energy, relative))


def _loss(found: Mixed, energy: float, relative: float) -> Measurement:
    """Share of the energy that did not heat the batch: 1 - c dT / SE."""
    mixer, rise = found.mixer, found.end - found.start
    if mixer.heat_capacity is None:
        return Measurement(quantity="mixing_loss", value=None, reason="the heat capacity is not stated")
    if energy <= 0.0 or rise <= 0.0:
        return Measurement(quantity="mixing_loss", value=None, reason="the batch took no energy or did not warm")
    kept = mixer.heat_capacity * rise / energy
    doubt = hypot(mixer.capacity_u95, hypot(found.end_u95, mixer.temperature_u95) / rise, relative)
    return Measurement(quantity="mixing_loss", value=1.0 - kept, u95=kept * doubt)


def _dump(log: MixerLog, net: _Array, mixer: Mixer) -> tuple[float, str]:
    if mixer.dump is not None:
        if not log.time[0] < mixer.dump <= log.time[-1]:
            raise InputError(
                f"dump at {mixer.dump:g} s lies outside the log, {log.time[0]:g} to {log.time[-1]:g} s; correct it"
            )
        return mixer.dump, "stated"
    if mixer.idle is not None:
        from scipy.signal import medfilt

        loaded = np.flatnonzero(medfilt(net, 3) > DROP * float(net.max()))
        if loaded.size and loaded[-1] < log.time.size - 2:
            return float(log.time[loaded[-1]]), "the power falls to idle"
    return float(log.time[-1]), "end of the log"


def _smooth(values: _Array) -> _Array:
    """Mean over about a fortieth of the readings, three at least."""
    width = max(3, values.size // 40 | 1)
    if values.size <= width:
        return values
    padded = np.pad(values, width // 2, mode="edge")
    return np.convolve(padded, np.full(width, 1.0 / width), mode="valid")


def _peaks(time: _Array, power: _Array) -> tuple[Peak, ...]:
    """Peaks that stand out of the smoothed curve; its ends are none."""
    if time.size < 7:
        return ()
    from scipy.signal import find_peaks

    smooth = _smooth(power)
    noise = 1.4826 * float(np.median(np.abs(np.diff(power)))) / 2.0**0.5
    least = max(
        PROMINENT * float(smooth.max() - min(smooth.min(), 0.0)), 4.0 * noise * (3.0 / (time.size // 40 | 3)) ** 0.5
    )
    places, _ = find_peaks(smooth, prominence=least)
    area = np.concatenate([[0.0], np.cumsum(0.5 * (power[1:] + power[:-1]) * np.diff(time))])
    return tuple(Peak(time=float(time[k] - time[0]), power=float(smooth[k]), energy=float(area[k])) for k in places)
