"""The colours: the tables of contrast and of colour-blind sight, recomputed from the token file.

Contrast is the WCAG 2.2 formula. Dichromats are simulated after Machado, Oliveira and Fernandes 2009, severity 1, in
linear RGB; the matrices are from memory, as in the table they are compared with. Differences are CIEDE2000 (Sharma,
Wu, Dalal 2005), whose own check pair stands first.
"""

from itertools import chain
from math import atan2, cos, degrees, exp, hypot, radians, sin

import pytest

from runtrue.paper.tokens import COLOURS, Role, Theme, colour

Triple = tuple[float, float, float]
MACHADO = {
    "normal": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "protan": (
        (0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)
    ),
    "tritan": (
        (1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)
    ),
    "grey": ((0.2126, 0.7152, 0.0722),) * 3,
}  # fmt: skip


def linear(hexadecimal: str) -> Triple:
    values = (int(hexadecimal[k : k + 2], 16) / 255.0 for k in (1, 3, 5))
    r, g, b = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values)
    return r, g, b


def luminance(hexadecimal: str) -> float:
    r, g, b = linear(hexadecimal)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def lab(rgb: Triple) -> Triple:
    r, g, b = (min(max(v, 0.0), 1.0) for v in rgb)
    x = (0.4124564 * r + 0.3575761 * g + 0.1804375 * b) / 0.95047
    y = 0.2126729 * r + 0.7151522 * g + 0.0721750 * b
    z = (0.0193339 * r + 0.1191920 * g + 0.9503041 * b) / 1.08883
    fx, fy, fz = (v ** (1 / 3) if v > (6 / 29) ** 3 else v / (3 * (6 / 29) ** 2) + 4 / 29 for v in (x, y, z))
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


def ciede2000(one: Triple, other: Triple) -> float:
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean_chroma = (hypot(a1, b1) + hypot(a2, b2)) / 2
    g = 0.5 * (1 - (mean_chroma**7 / (mean_chroma**7 + 25.0**7)) ** 0.5)
    a1, a2 = a1 * (1 + g), a2 * (1 + g)
    c1, c2 = hypot(a1, b1), hypot(a2, b2)
    h1, h2 = degrees(atan2(b1, a1)) % 360, degrees(atan2(b2, a2)) % 360
    turn = h2 - h1
    if c1 * c2 == 0:
        turn = 0.0
    elif turn > 180:
        turn -= 360
    elif turn < -180:
        turn += 360
    dh = 2 * (c1 * c2) ** 0.5 * sin(radians(turn / 2))
    lm, cm = (l1 + l2) / 2, (c1 + c2) / 2
    hm = h1 + h2 if c1 * c2 == 0 else (h1 + h2 + (0 if abs(h1 - h2) <= 180 else 360 if h1 + h2 < 360 else -360)) / 2
    t = (
        1 - 0.17 * cos(radians(hm - 30)) + 0.24 * cos(radians(2 * hm)) + 0.32 * cos(radians(3 * hm + 6))
        - 0.20 * cos(radians(4 * hm - 63))
    )  # fmt: skip
    sl = 1 + 0.015 * (lm - 50) ** 2 / (20 + (lm - 50) ** 2) ** 0.5
    sc, sh = 1 + 0.045 * cm, 1 + 0.015 * cm * t
    rt = -2 * (cm**7 / (cm**7 + 25.0**7)) ** 0.5 * sin(radians(60 * exp(-(((hm - 275) / 25) ** 2))))
    dl, dc = (l2 - l1) / sl, (c2 - c1) / sc
    return float((dl**2 + dc**2 + (dh / sh) ** 2 + rt * dc * dh / sh) ** 0.5)


def seen(hexadecimal: str, sight: str) -> Triple:
    rgb = linear(hexadecimal)
    x, y, z = (sum(m * v for m, v in zip(row, rgb, strict=True)) for row in MACHADO[sight])
    return lab((x, y, z))


def test_ciede2000_gives_the_published_figure() -> None:
    """Sharma, Wu, Dalal 2005, table 1, pairs 1, 17 and 25."""
    for one, other, printed in (
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ):
        assert ciede2000(one, other) == pytest.approx(printed, abs=5e-5)


CONTRAST = {
    Theme.LIGHT: {"ink": 13.9, "ink-2": 6.7, "line": 3.3, "petrol": 6.8, "alarm": 5.2},
    Theme.DARK: {"ink": 15.0, "ink-2": 8.5, "line": 4.3, "petrol": 8.8, "alarm": 6.1},
}
ON_FILL = {Theme.LIGHT: (8.2, 6.3, 10.3), Theme.DARK: (9.8, 6.7, 11.4)}


@pytest.mark.parametrize("theme", [Theme.LIGHT, Theme.DARK])
def test_contrast_table(theme: Theme) -> None:
    papers = [colour(theme, role) for role in (Role.GROUND, Role.SHEET, Role.WELL)]
    for name, printed in CONTRAST[theme].items():
        worst = min(contrast(colour(theme, Role(name)), paper) for paper in papers)
        assert worst == pytest.approx(printed, abs=0.06)
        assert worst >= (3.0 if name == "line" else 4.5)
    pairs = ((Role.ON_FILL, Role.PETROL), (Role.ON_FILL, Role.ALARM), (Role.ON_BRASS, Role.BRASS))
    for (text, fill), printed in zip(pairs, ON_FILL[theme], strict=True):
        assert contrast(colour(theme, text), colour(theme, fill)) == pytest.approx(printed, abs=0.06)


def test_contrast_on_the_washes() -> None:
    floors = {Role.INK: 11.3, Role.INK_2: 6.1, Role.PETROL: 6.2, Role.ALARM: 4.6, Role.LINE: 3.1}
    for theme in (Theme.LIGHT, Theme.DARK):
        for wash in (Role.PETROL_WASH, Role.BRASS_WASH, Role.ALARM_WASH):
            for role, floor in floors.items():
                if (role, wash) in ((Role.PETROL, Role.ALARM_WASH), (Role.ALARM, Role.PETROL_WASH)):
                    continue  # neither ever stands on the other's wash
                assert contrast(colour(theme, role), colour(theme, wash)) >= floor - 0.05, (theme, role, wash)


SIGHTS = ("normal", "protan", "deutan", "tritan", "grey")
DIFFERENCE = {
    ("petrol", "alarm"): ((49, 54), (37, 40), (45, 43), (52, 62), (6, 9)),
    ("petrol", "brass"): ((63, 41), (59, 40), (66, 43), (58, 43), (43, 6)),
    ("brass", "alarm"): ((50, 36), (45, 21), (32, 13), (36, 25), (35, 16)),
}


@pytest.mark.parametrize("pair", list(DIFFERENCE), ids="-".join)
def test_colour_blind_table(pair: tuple[str, str]) -> None:
    for sight, printed in zip(SIGHTS, DIFFERENCE[pair], strict=True):
        for theme, figure in zip((Theme.LIGHT, Theme.DARK), printed, strict=True):
            one, other = (seen(colour(theme, Role(name)), sight) for name in pair)
            found = ciede2000(one, other)
            assert found == pytest.approx(figure, abs=1.0), (sight, theme)
            assert sight == "grey" or found >= 12.0


def test_paper_has_one_ink_and_three_greys() -> None:
    used = set(chain(COLOURS[Theme.PRINT].values()))
    assert used == {"#000000", "#FFFFFF", "#E4E4E4", "#6E6E6E", "#3A3A3A"}


def test_every_theme_has_every_role() -> None:
    assert set(COLOURS) == set(Theme) - {Theme.PAGE}  # a page names the colours of its sheet
    for roles in COLOURS.values():
        assert list(roles) == list(Role)
