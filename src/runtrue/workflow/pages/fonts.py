"""Where the faces lie that paper and pages share."""

from runtrue.paper.faces import FONTS

__all__ = ["FONTS"]
