r"""What went in and what came out: compound + regrind = discs + flash + purge + rejects + held + gap."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import fsum, hypot

from runtrue.errors import InputError
from runtrue.stats.checks import within
from runtrue.types import Measurement


class Post(StrEnum):
    """A post of the balance."""

    COMPOUND_IN = "compound_in"
    REGRIND_IN = "regrind_in"
    DISCS = "discs"
    FLASH = "flash"
    PURGE = "purge"
    REJECTS = "rejects"
    HELD = "held"


IN = (Post.COMPOUND_IN, Post.REGRIND_IN)
"""What goes in; the others come out. Held is what still lies in mixer, hopper and bins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A mass [kg] with its U95 [kg] on a post."""

    post: Post
    mass: float
    u95: float

    def __post_init__(self) -> None:
        """Refuse what no scale shows."""
        within(f"{self.post.value}: mass", self.mass, 0.0)
        within(f"{self.post.value}: u95", self.u95, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Sums by post [kg], what went in, the gap (in less out, positive lost) with its U95, and the shares.

    ``gap_share``, ``disc_yield`` and ``regrind_share`` are of what went in.
    """

    posts: dict[Post, float]
    inside: float
    gap: float
    gap_u95: float
    disc_yield: float
    regrind_share: float
    to_grind: float

    @property
    def gap_measurement(self) -> Measurement:
        """The gap as a share, to be laid beside a limit."""
        return Measurement(quantity="balance_gap", value=self.gap / self.inside, u95=self.gap_u95 / self.inside)


def counted(post: Post, count: int, each: float, each_u95: float, count_u95: float = 0.0) -> Entry:
    """The mass of counted pieces: n times the mean mass [kg], the doubt of both in it.

    Examples
    --------
    >>> from runtrue.compound.balance import Post
    >>> entry = counted(Post.DISCS, 500, 0.140, 0.0005, count_u95=2.0)
    >>> entry.mass, round(entry.u95, 4)
    (70.0, 0.3754)
    """
    within("count", count, 0)
    return Entry(post=post, mass=count * each, u95=hypot(count * each_u95, count_u95 * each))


def balance(entries: Sequence[Entry]) -> Balance:
    """Add up.

    Parameters
    ----------
    entries : sequence of Entry
        At least one that went in; errors of different entries are taken as independent

    Returns
    -------
    found : Balance

    Examples
    --------
    >>> made = balance([Entry(post=Post.COMPOUND_IN, mass=100.0, u95=0.3), Entry(post=Post.DISCS, mass=80.0, u95=0.2),
    ...                 Entry(post=Post.FLASH, mass=18.0, u95=0.1)])
    >>> made.gap, round(made.gap_u95, 3), made.disc_yield
    (2.0, 0.374, 0.8)
    """
    posts = {post: fsum(e.mass for e in entries if e.post is post) for post in Post}
    inside = fsum(posts[post] for post in IN)
    if inside <= 0.0:
        raise InputError("balance: nothing went in; add compound_in or regrind_in")
    outside = fsum(mass for post, mass in posts.items() if post not in IN)
    return Balance(
        posts=posts,
        inside=inside,
        gap=inside - outside,
        gap_u95=hypot(*(entry.u95 for entry in entries)),
        disc_yield=posts[Post.DISCS] / inside,
        regrind_share=posts[Post.REGRIND_IN] / inside,
        to_grind=posts[Post.FLASH] + posts[Post.REJECTS],
    )
