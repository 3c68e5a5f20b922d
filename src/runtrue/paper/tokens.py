"""Colours by job, for a light page, a dark page and paper. The names say what a colour is for, not its hue.

Petrol: in limit, and everything that can be touched. Brass: cannot judge and caution, as a fill only and always edged
in ink. Alarm: out of limit or hold, nothing else. Colour never stands alone; shape and word say the same.
Paper has one ink and three greys (``E4E4E4``, ``6E6E6E``, ``3A3A3A``).
"""

from enum import StrEnum


class Role(StrEnum):
    """What a colour does."""

    GROUND = "ground"
    SHEET = "sheet"
    WELL = "well"
    INK = "ink"
    INK_2 = "ink-2"
    LINE = "line"
    HAIR = "hair"
    PETROL = "petrol"
    PETROL_WASH = "petrol-wash"
    BRASS = "brass"
    BRASS_WASH = "brass-wash"
    ALARM = "alarm"
    ALARM_WASH = "alarm-wash"
    ON_FILL = "on-fill"
    ON_BRASS = "on-brass"
    DISC = "disc"
    DISC_GAP = "disc-gap"
    DISC_LABEL = "disc-label"
    HATCH = "hatch"


class Theme(StrEnum):
    """Where a drawing is seen."""

    LIGHT = "light"
    DARK = "dark"
    PRINT = "print"
    PAGE = "page"
    """A web page, whose style sheet names the colours by their roles and follows light and dark."""


def _roles(values: str) -> dict[Role, str]:
    return dict(zip(Role, (f"#{value}" for value in values.split()), strict=True))


COLOURS: dict[Theme, dict[Role, str]] = {
    Theme.LIGHT: _roles(
        "E6EBE9 FBFCFB EEF2F0 13201E 46534F 74827E C4CDCA 0A5670 D3E4EA F0C63E F8EBC0 B8270A FADBD0 FFFFFF 13201E "
        "D3DAD7 FBFCFB FBFCFB 8C9895"
    ),
    Theme.DARK: _roles(
        "0D1413 161F1E 0F1716 EEF3F1 AEBBB7 75847F 2F3C39 7CC6E0 143743 F3D272 3C3110 FF6E48 48201A 0D1413 13201E "
        "2A3634 161F1E 161F1E 5B6966"
    ),
    Theme.PRINT: _roles(
        "FFFFFF FFFFFF FFFFFF 000000 3A3A3A 6E6E6E E4E4E4 000000 FFFFFF FFFFFF FFFFFF 000000 E4E4E4 FFFFFF 000000 "
        "E4E4E4 FFFFFF FFFFFF 6E6E6E"
    ),
}
"""Hexadecimal sRGB for each theme and role. ``hair`` on paper is the lightest of the three greys, not a fourth."""


def colour(theme: Theme, role: Role) -> str:
    """Return the hexadecimal sRGB of a role in a theme; on a page, the style sheet's name for it."""
    return f"var(--{role})" if theme is Theme.PAGE else COLOURS[theme][role]
