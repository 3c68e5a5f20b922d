"""Results of the compound room told: the sentence, and the facts of a page in words."""

from runtrue.contract.charge import ChargeSheet
from runtrue.paper.words import count, fixed

BASIS_WORDS = {"dry": "dry", "as_charged": "as charged", "solids": "of solids"}


def kg(mass: float | None, *, signed: bool = False) -> str:
    """A mass to the gram below 100 kg, to ten grams above; "–" for none."""
    if mass is None:
        return "–"
    text = fixed(mass, 3 if abs(mass) < 100.0 else 2)
    return f"+{text}" if signed and mass > 0.0 and float(f"{mass:.3f}") else text


def charge_told(result: ChargeSheet) -> str:
    """The sentence over a charge."""
    basis = BASIS_WORDS[result.formula.basis]
    said = (
        f"Charge {result.code}: weigh {result.mass_kg:.4f} kg in {count(len(result.lines), 'line')} for "
        f"{result.batch_kg:g} kg {basis} of {result.formula.name}."
    )
    if result.ready:
        return said
    short = [line.ingredient for line in result.lines if line.short_kg > 0.0]
    return f"{said} The lots do not reach: {', '.join(short)}."


def charge_facts(result: ChargeSheet) -> list[tuple[str, str]]:
    """What the batch is, in words and numbers."""
    rows = [
        ("as it is", f"{result.mass_kg:.4f} kg"),
        ("water carried in", f"{result.water_kg:.4f} kg, {fixed(result.water_percent, 3)} % of the charge"),
    ]
    if result.solvent_kg > 0.0:
        rows.append(("solvent carried in", f"{result.solvent_kg:.4f} kg"))
    if result.density_g_cm3 is not None:
        rows.append(("density, without pores", f"{fixed(result.density_g_cm3, 3)} g/cm³"))
    if result.mixer is not None:
        rows.append(("fill", f"{fixed(result.mixer.fill_percent, 1)} % of {result.mixer.volume_l:g} l"))
    if result.biscuits is not None:
        made = result.biscuits
        rows.append(
            ("biscuits", f"{made.count} of {fixed(made.biscuit_g, 1)} g for {made.format}: "
             f"disc {fixed(made.disc_g, 0)} g, {made.flash_percent:g} % flash")
        )  # fmt: skip
        if made.mean_thickness_mm is not None:
            rows.append(("mean thickness of the disc", f"{fixed(made.mean_thickness_mm, 2)} mm"))
    if result.cost is not None:
        rows.append(("cost", f"{fixed(result.cost, 2)} {result.formula.currency}".strip()))
    rows.append(("percentages", f"close at {result.formula.sum_percent:g}, {BASIS_WORDS[result.formula.basis]}"))
    return rows
