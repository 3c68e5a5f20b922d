"""Results of the compound room told: the sentence, and the facts of a page in words."""

from runtrue.contract.batch import BatchResult, FamilyNumber, FamilyPart, MeasuredRow
from runtrue.contract.blend import Blend
from runtrue.contract.charge import ChargeSheet
from runtrue.contract.compound_store import BatchLink, CertificateRow, LotResult, SheetRow
from runtrue.contract.listening import VerdictWord
from runtrue.contract.weighed import Weighed
from runtrue.paper.words import count, decimals_of, fixed, number
from runtrue.quantities import quantity_by_key

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


def blend_facts(result: Blend) -> list[tuple[str, str]]:
    """What the blend is, in words and numbers."""
    rows = [("batch", f"{result.batch_kg:.6g} kg"), ("away from the formula", f"{result.tolerances:.4g} tolerances")]
    if result.density_g_cm3 is not None:
        rows.append(("density, without pores", f"{fixed(result.density_g_cm3, 3)} g/cm³"))
    if result.cost_per_kg is not None:
        rows.append(("cost", f"{fixed(result.cost_per_kg, 3)} a kg of compound"))
    for ground in result.regrind:
        seen = ", ".join(f"{fixed(part.percent, 1)} % {part.passes} times" for part in ground.seen)
        rows += [
            (f"{ground.ingredient}, hot before", f"{fixed(ground.mean_passes, 2)} times in the mean; {seen}"),
            (
                f"{ground.ingredient}, paper and dirt",
                f"{fixed(ground.foreign_ppm, 0)} ppm of the compound in the long run",
            ),
        ]
        if ground.lost_by_cutting_percent is not None:
            rows.append(("cutting labels out", f"costs {fixed(ground.lost_by_cutting_percent, 1)} % of a 12 in disc"))
    return rows


def measured_words(row: MeasuredRow) -> str:
    """A measured number with its U95, or "not measured"."""
    if row.value is None:
        return "not measured"
    return str(number(row.value, row.u95, row.unit, decimals=quantity_by_key(row.quantity).decimals))


def batch_facts(result: BatchResult) -> list[tuple[str, str]]:
    """What the log says of a batch."""
    rows = [(row.words, measured_words(row)) for row in result.measured]
    rows.append(("dump", f"at {fixed(result.dump_s, 1)} s, {result.dump_known}"))
    for place, peak in enumerate(result.peaks, 1):
        energy = "" if peak.energy_kwh_per_kg is None else f", after {fixed(peak.energy_kwh_per_kg, 4)} kWh/kg"
        rows.append((f"peak {place}", f"{fixed(peak.power_kw, 1)} kW at {fixed(peak.time_s, 0)} s{energy}"))
    return rows


def number_word(row: FamilyNumber, part: FamilyPart) -> VerdictWord:
    """Verdict on one number of the batches after the baseline."""
    if not row.judged or row.baseline == len(row.batches):
        return "cannot_judge"
    return "fail" if any(one.quantity == row.quantity for one in part.out) else "pass"


def family_row(row: FamilyNumber) -> tuple[str, str, str, str, str]:
    """Words, family's value, standard deviation, newest value and limits of one number."""
    unit = f" {row.unit}" if row.unit else ""
    newest = next((value for value in reversed(row.values) if value is not None), None)
    if row.centre is None or row.sigma is None or row.lower is None or row.upper is None:
        return f"{row.words}{unit and ','}{unit}", "–", "–", "–" if newest is None else f"{newest:g}", row.reason
    places = max(decimals_of(row.sigma), 0) if row.sigma > 0.0 else 3
    return (
        f"{row.words}{unit and ','}{unit}",
        fixed(row.centre, places),
        fixed(row.sigma, places),
        "–" if newest is None else fixed(newest, places),
        f"{fixed(row.lower, places)} to {fixed(row.upper, places)}",
    )


def certificate_row(row: CertificateRow) -> tuple[str, str, str, str]:
    """A value of the certificate beside the plant's own."""
    places = quantity_by_key(row.quantity).decimals
    own = "–" if row.own is None else str(number(row.own, row.own_u95, row.unit, decimals=places))
    apart = "" if row.apart is None else "they agree" if row.apart <= 1.0 else "they disagree"
    stated = str(number(row.certificate, row.certificate_u95, row.unit, decimals=places))
    return row.words, stated, own, apart


def lot_facts(result: LotResult) -> list[tuple[str, str]]:
    """What is known of a lot besides its limits."""
    rows = [("supplier", result.supplier)] + [(row.words, measured_words(row)) for row in result.measured]
    if result.trial is not None and result.trial.surface_difference_db is not None:
        rows.append(("trial pressing", f"on {result.trial.stamper}, a proved stamper"))
    if result.shelf is not None:
        rows.append(("shelf life", f"{result.shelf.left_days} of {result.shelf.life_days} days left"))
    return rows


def sheet_row(row: SheetRow) -> tuple[str, str, str, str, str]:
    """One quantity of the sheet: words, readings, mean, standard deviation, capability."""
    places = max(decimals_of(row.sigma), 0) if row.sigma > 0.0 else 3
    cpk = "–"
    if row.cpk is not None and row.cpk_interval is not None:
        low, high = row.cpk_interval
        cpk = f"{fixed(row.cpk, 2)} ({fixed(low, 2)} to {fixed(high, 2)})"
    unit = f", {row.unit}" if row.unit else ""
    return f"{row.words}{unit}", str(row.readings), fixed(row.mean, places), fixed(row.sigma, places), cpk


def biscuits_words(link: BatchLink) -> str:
    """Biscuits of a batch: "surely 11 to 90, at most 1 to 100"."""
    if link.maybe_first is None:
        return "–"
    widest = f"at most {link.maybe_first} to {link.maybe_last}"
    return widest if link.first is None else f"surely {link.first} to {link.last}, {widest}"


def weigh_facts(result: Weighed) -> list[tuple[str, str]]:
    """What the weighings make of the formula: classes and density, asked for and in the mix."""
    rows = [
        (row.material, f"{fixed(row.mix_percent, 2)} %, asked {fixed(row.formula_percent, 2)} %")
        for row in result.classes
    ]
    if result.mix_density_g_cm3 is not None and result.density_g_cm3 is not None:
        mix, asked = fixed(result.mix_density_g_cm3, 3), fixed(result.density_g_cm3, 3)
        rows.append(("density, without pores", f"{mix} g/cm³, asked {asked} g/cm³"))
    return rows
