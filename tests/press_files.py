"""A press file for tests; the plant is invented."""

CYCLE = """[cycle]
name = "P2, 12in 140 g"
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
[[phase]]
name = "open"
duration_s = 5.0
fluid = "air"
temperature_degc = 25.0
film_w_m2k = 10
open = true
[[layer]]
name = "steel"
material = "steel"
thickness_mm = 12.0
contact_after_w_m2k = 4000
[[layer]]
name = "nickel"
material = "nickel"
thickness_mm = 0.2
contact_after_w_m2k = 5000
[[layer]]
name = "compound"
material = "vinyl"
thickness_mm = 0.95
initial_degc = 140.0
[limits]
flow_degc = 105.0
open_below_degc = 70.0
[energy]
format = "12in-33"
water_rise_k = 5.0
"""


def changed(text: str, old: str, new: str) -> str:
    """The text with one piece replaced; the piece must be there."""
    assert old in text, old
    return text.replace(old, new, 1)
