"""Files of a press for tests; the plant is invented."""

import csv
import io

import numpy as np

from runtrue.forward.thermocouple import PressTruth, Slice, Spell, Spoil, thermocouple_log

CYCLE = """[cycle]
name = "P2, 12in 140 g"
initial_degc = 40.0
[[phase]]
name = "steam"
duration_s = 9.0
fluid = "steam"
pressure_bar_g = 7.0
film_w_m2k = 8000
[[phase]]
name = "water"
duration_s = 14.0
fluid = "water"
temperature_degc = 18.0
film_w_m2k = 7000
[[layer]]
name = "steel"
material = "steel"
thickness_mm = 10.0
contact_after_w_m2k = 4000
[[layer]]
name = "nickel"
material = "nickel"
thickness_mm = 0.2
contact_after_w_m2k = 5000
[[layer]]
name = "compound"
thickness_mm = 0.95
conductivity_w_mk = 0.17
density_kg_m3 = 1380
specific_heat_j_kgk = 1250
initial_degc = 140.0
[limits]
flow_degc = 95.0
open_below_degc = 95.0
[energy]
format = "12in-33"
water_rise_k = 5.0
[[counts]]
durations_s = { steam = 9.0, water = 14.0 }
records = 1800
non_fill = 9
warped_24h = 14
[[counts]]
durations_s = { steam = 8.0, water = 16.0 }
records = 900
non_fill = 14
warped_24h = 3
"""
OPEN = """[[phase]]
name = "open"
duration_s = 5.0
fluid = "air"
temperature_degc = 25.0
film_w_m2k = 10
open = true
[[layer]]
name = "steel"
"""
RUNNING = CYCLE.replace("initial_degc = 40.0\n", "", 1).replace('[[layer]]\nname = "steel"\n', OPEN, 1)
"""The same press running, five seconds open between the cycles."""
PILE = """[pile]
name = "P2, pile 4"
records = 30
format = "12in-33"
thickness_mm = 1.9
start_degc = 50.0
below_degc = 30.0
plate_every = 5
plate_mm = 1.5
[room]
temperature_degc = 22.0
"""


def changed(text: str, old: str, new: str) -> str:
    """The text with one piece replaced; the piece must be there."""
    assert old in text, old
    return text.replace(old, new, 1)


def truth(*, water_film: float = 6400.0) -> PressTruth:
    """The press of the file as it truly is: films 9200 and 6400, contacts 4600 and 4200, from a mould at 40 degC."""
    die = Slice(thickness=10e-3, conductivity=45.0, density=7850.0, specific_heat=475.0, joint=4600.0, start=313.15)
    nickel = Slice(thickness=2e-4, conductivity=90.7, density=8900.0, specific_heat=444.0, joint=4200.0, start=313.15)
    record = Slice(
        thickness=1.9e-3, conductivity=0.17, density=1380.0, specific_heat=1250.0, joint=4200.0, start=413.15
    )
    back = Slice(thickness=2e-4, conductivity=90.7, density=8900.0, specific_heat=444.0, joint=4600.0, start=313.15)
    spells = (
        Spell(seconds=9.0, temperature_a=443.63, film_a=9200.0, temperature_b=443.63, film_b=9200.0, steam_bar_g=7.0),
        Spell(seconds=14.0, temperature_a=291.15, film_a=water_film, temperature_b=291.15, film_b=water_film),
    )
    return PressTruth(
        slices=(die, nickel, record, back, die), record=2, spells=spells,
        couples={"die_face_a_degc": (0, 1.0), "mid_plane_degc": (2, 0.5)},
    )  # fmt: skip


def press_log_text(seed: int = 3, *, noise: float = 0.5) -> str:
    """A log of that press (CSV), by another discretisation than the station's."""
    spoil = Spoil(noise=noise, offsets={"die_face_a_degc": 0.6}, late=0.3, gauge=0.03, thermometer=0.1)
    return table(thermocouple_log(truth(), np.random.default_rng(seed), spoil=spoil))


def table(columns: dict[str, np.ndarray]) -> str:
    """Columns as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(list(columns))
    writer.writerows([f"{x:.3f}" for x in row] for row in zip(*columns.values(), strict=True))
    return out.getvalue()


def trial_text(count: int = 40, *, shift: float = 0.25, seed: int = 5) -> str:
    """A trial of two settings in turns; the second is warped by ``shift`` mm more."""
    rng = np.random.default_rng(seed)
    lines = ["setting,copy,warp_24h_mm,noise_db_a,mass_g,non_fill"]
    for copy in range(count):
        for setting, more in (("14 s", 0.0), ("12 s", shift)):
            warp = abs(rng.normal(0.8 + more, 0.25))
            noise, mass = rng.normal(-56.0, 0.6), rng.normal(140.0, 0.8)
            lines.append(f"{setting},{copy},{warp:.2f},{noise:.2f},{mass:.2f},{int(rng.random() < 0.05)}")
    return "\n".join(lines) + "\n"
