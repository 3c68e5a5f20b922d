"""The compound room in words: the usual cautions by what is handled, and the sentences that come first."""

from collections.abc import Iterable

from runtrue.paper.words import count, fixed, listed, odds, sentence_case

__all__ = ["count", "fixed", "listed", "odds", "safety", "sentence_case"]

HAZARDS = {
    "combustible_dust": "Dust that burns: shellac, resins, stearates, flock, black and PVC dust can explode: no "
    "cloud, no "
    "compressed air, no spark, earthed plant, clean floors, a competent dust-hazard analysis.",
    "silica_ask_supplier": "Silica: slate, rottenstone, clays and some limestones carry crystalline silica that "
    "harms the "
    "lungs: extraction, wet cleaning, fitted respirators; ask the supplier for the quartz content.",
    "hot_pvc": "Hot PVC: it gives off hydrogen chloride when it is too hot or too long hot: extraction; a black or "
    "fuming "
    "batch is left, cooled and aired from a distance.",
    "old_stabiliser": "Old stabilisers: they hold lead, cadmium or barium: no dry sweeping, hygiene, surveyed "
    "exposure.",
    "organotin": "Organotin stabilisers: toxic through the skin: gloves, goggles, the supplier's sheet.",
    "regrind_unknown": "Regrind: of unknown origin it may hold old lead or cadmium stabilisers: test it before it "
    "goes in.",
    "old_filler": "Old fillers: talc and fillers of very old stock may hold asbestos: test before anything is ground.",
    "solvent": "Solvents: they burn and their vapour harms: fresh air, no flame, no static.",
    "irritant": "Irritant: it irritates skin, eyes or lungs: gloves, goggles, the supplier's sheet.",
}
"""What an ingredient may bring, by the name a formula gives it. Usual cautions (common practice)."""
MACHINES = (
    "Mixer and rolls: guards and trip bars in place and tested, no hands in the hopper, locked out before anyone "
    "reaches in.",
    "Heat: compound, rolls and sheet burn the skin: gloves that hold heat and cannot be caught.",
)
"""Where compound is mixed and rolled."""
DEFER = "Local codes, makers' manuals, suppliers' sheets and trained people decide; no figure here is a safe setting."


def safety(hazards: Iterable[str], *, machines: bool = True) -> list[str]:
    """The cautions for what is handled, each once; a hazard of other words sends to the supplier's sheet."""
    named = [
        HAZARDS.get(name) or f"{sentence_case(name.replace('_', ' '))}: as the supplier's safety sheet says."
        for name in dict.fromkeys(hazards)
    ]
    return [*named, *(MACHINES if machines else ()), DEFER]
