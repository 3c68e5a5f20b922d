"""Cautions of the press that stand on everything it prints."""

SAFETY = (
    "Steam: moulds, hoses and traps are under pressure and scald; drain before water, never water into a hot "
    "steam-filled mould except by the maker's sequence.",
    "Press: guard or two-hand control in place; blocked and locked out before anyone reaches into the daylight.",
    "Hot compound and plates burn: gloves, sleeves, tongs.",
    "Hot vinyl gives off hydrogen chloride when it stands too long: extraction on; a black or fuming biscuit means "
    "leave, cool, ventilate.",
    "Local codes, the maker's manual and licensed people decide; no figure here is a safe setting.",
)
ONE_WAY = "Heat is worked out across the layers only: uneven channels over the face cannot be seen here."
