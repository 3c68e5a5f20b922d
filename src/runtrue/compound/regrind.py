r"""Regrind: how often it has been hot, what labels and dirt it carries, and how much of it that allows.

With a share x of regrind in every batch, of which all that is ground comes back, a molecule has been through the mixer
k more times with probability (1 - x) x^k, x / (1 - x) times in the mean (geometric). A dirt that comes in with q per kg
of regrind and of which the sieve lets a share 1 - s through settles at

.. math:: c = x (1 - s) (c + q) \;\Rightarrow\; c = \frac{x (1 - s) q}{1 - x (1 - s)}

Both follow from the mass balance. Regrind of another colour never goes in.
"""

from dataclasses import dataclass
from math import pi

from runtrue.errors import InputError
from runtrue.stats.checks import within


def mean_passes(share: float) -> float:
    """Mean number of passes through the mixer before this one [-], of the share of regrind in every batch.

    Examples
    --------
    >>> mean_passes(0.25)
    0.3333
    """
    within("share", share, 0.0, 1.0, below=True)
    return share / (1.0 - share)


def share_seen(share: float, passes: int) -> float:
    """Share of the compound that has been through the mixer ``passes`` times before [-].

    Examples
    --------
    >>> [round(share_seen(0.3, k), 3) for k in range(3)]
    [0.7, 0.21, 0.063]
    """
    within("share", share, 0.0, 1.0, below=True)
    within("passes", passes, 0)
    return float((1.0 - share) * share**passes)


def share_for_passes(most: float) -> float:
    """Largest share of regrind [-] whose mean number of passes is at most this; the way back.

    Examples
    --------
    >>> share_for_passes(1.0 / 3.0)
    0.25
    """
    within("most", most, 0.0)
    return most / (1.0 + most)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What is ground: share of pressed rejects in it (the rest is flash), paper on a disc, dirt, what the sieve holds.

    ``rejects`` [-], ``paper`` kg of label paper over kg of disc after the labels were cut out, ``dirt`` kg that comes
    in with a kg of regrind, ``sieved`` share of paper and dirt that the sieve takes out again. ``colour`` as written on
    the bin.
    """

    colour: str
    rejects: float = 0.0
    paper: float = 0.0
    dirt: float = 0.0
    sieved: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no share."""
        for name in ("rejects", "paper", "dirt"):
            within(name, getattr(self, name), 0.0, 1.0)
        within("sieved", self.sieved, 0.0, 1.0)

    @property
    def brought(self) -> float:
        """Paper and dirt that a kg of regrind brings in anew [kg]."""
        return self.rejects * self.paper + self.dirt


def foreign_matter(share: float, ground: Ground) -> float:
    """Paper and dirt in the compound in the long run, over its mass [-].

    Examples
    --------
    >>> foreign_matter(0.2, Ground(colour="black", rejects=1.0, paper=0.01, sieved=0.5))
    0.0011
    """
    within("share", share, 0.0, 1.0, below=True)
    passing = share * (1.0 - ground.sieved)
    return passing * ground.brought / (1.0 - passing)


def share_for_matter(most: float, ground: Ground) -> float:
    """Largest share of regrind [-] that keeps paper and dirt at or below ``most``; 1 where it brings none.

    Examples
    --------
    >>> share_for_matter(0.00111111, Ground(colour="black", rejects=1.0, paper=0.01, sieved=0.5))
    0.2
    """
    within("most", most, 0.0, 1.0)
    passing = (1.0 - ground.sieved) * (ground.brought + most)
    if passing <= 0.0 or ground.brought == 0.0:
        return 1.0
    return min(most / passing, 1.0)


def label_paper(*, label_diameter: float, grammage: float, disc: float) -> float:
    """Paper of both labels over the mass of the disc [-].

    Parameters
    ----------
    label_diameter : float
        [m]
    grammage : float
        Of the paper [kg/m2]
    disc : float
        Mass of the disc [kg]

    Examples
    --------
    >>> label_paper(label_diameter=0.100, grammage=0.100, disc=0.140)
    0.0112
    """
    within("disc", disc, 0.0, above=True)
    return 2.0 * pi / 4.0 * label_diameter**2 * grammage / disc


def cut_out(*, label_diameter: float, disc_diameter: float) -> float:
    """Share of a disc lost when its labels are cut out with what is under them [-]: about a tenth.

    Examples
    --------
    >>> cut_out(label_diameter=0.100, disc_diameter=0.301)
    0.1104
    """
    within("disc_diameter", disc_diameter, label_diameter, above=True)
    return (label_diameter / disc_diameter) ** 2


def check_colour(name: str, ground: str, formula: str) -> None:
    """Raise ``InputError`` where regrind is of another colour than the formula, or one of the two is not stated."""
    if not formula or not ground:
        raise InputError(f"{name}: say the colour of the regrind and of the formula; colours are never mixed")
    if ground.casefold() != formula.casefold():
        raise InputError(
            f"{name} is {ground}, the formula {formula}: colours are never mixed; take it out or take {formula} regrind"
        )
