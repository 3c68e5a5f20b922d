"""Cautions that stand on everything the stamper station prints."""

SAFETY = (
    "Punch: hands out of the tool, guard or two-hand control in place, locked out before anyone reaches in.",
    "Metal edges cut: gloves that resist cuts, both hands, edges away from the body.",
    "Nickel dust from sanding and burrs harms the lungs and the skin: wet or under extraction, never blown off.",
    "Solvents burn and their vapour harms: fresh air, no flame, no static.",
    "Local codes, the maker's manual and trained people decide; no figure here is a safe setting.",
)
