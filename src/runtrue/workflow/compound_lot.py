"""The moment a lot comes in: its tests beside certificate, limits, family and shelf life, and the decision."""

from typing import Any, cast

import numpy as np

import runtrue
from runtrue.compound.incoming import Decided, Shelf, decide, disagreement
from runtrue.contract import compound_store as printed
from runtrue.contract.batch import FamilyPart
from runtrue.contract.charge import FileInput
from runtrue.contract.listening import NotJudged
from runtrue.quantities import QUANTITIES, quantity
from runtrue.stats import conformity
from runtrue.types import Measurement, Progress, Verdict
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.batch_files import load_family
from runtrue.workflow.compound_batch import USUAL_BASELINE, _family_part, _family_reasons, _measured, _Table
from runtrue.workflow.compound_requests import CompoundLotRequest
from runtrue.workflow.compound_words import listed, safety
from runtrue.workflow.limits import load_limits
from runtrue.workflow.lot_file import LotFile, day_of, load_lot
from runtrue.workflow.nulls import not_judged
from runtrue.workflow.printing import _row as finding_row

_VERDICTS = {"accept": "pass", "use_with_care": "cannot_judge", "refuse": "fail", None: "cannot_judge"}
_SAID = {
    "accept": "accept it",
    "use_with_care": "use it with care",
    "refuse": "refuse it",
    None: "hold it: it cannot be decided yet",
}


def judge_lot(request: CompoundLotRequest, ports: Ports, progress: Progress) -> printed.LotResult:
    """Judge a lot. Raises ``InputError`` for what is not usable; what was not measured is no error."""
    check_request(request)
    on = request.on or ports.clock()[:10]
    day_of(on, "on")
    file = load_lot(request.lot, on)
    limits = [] if request.limits is None else [one.limit for one in load_limits(request.limits).limits]
    mine = {row.quantity for row in file.own}
    judged = [*file.own, *file.trial, *(row for row in file.certificate if row.quantity not in mine)]
    findings = conformity.judge(judged, limits)
    rows = _certificate(file)
    part, family_input = _family(request, file, judged)
    apart = [row.words for row in rows if row.apart is not None and row.apart > 1.0]
    decided = decide(findings, apart=apart, family=None if part is None else Verdict(part.verdict), shelf=file.shelf)
    word = None if decided.decision is None else decided.decision.value
    result = printed.LotResult(
        verdict=cast(Any, _VERDICTS[word]),
        decision=cast(Any, word),
        said=_said(file, decided),
        lot=file.id,
        material=file.material,
        supplier=file.supplier,
        reasons=[_shown(reason) for reason in decided.reasons],
        findings=[finding_row(finding, True) for finding in findings],
        measured=[_measured(row) for row in judged],
        certificate=rows,
        trial=_trial(file),
        family=part,
        shelf=_shelf(file.shelf),
        not_judged=[],
        cautions=_cautions(file, mine),
        safety=safety(file.hazards, machines=False),
        input=[FileInput(file=file.name, sha256=file.digest), *family_input],
        settings=printed.LotSettings(on=on),
        version=runtrue.__version__,
    )
    unmeasured = next((row.reason for row in file.trial if row.value is None), "")
    reasons = {
        "decision": "; ".join(result.reasons),
        "trial": "no trial pressing was made",
        "trial.surface_difference_db": unmeasured,
        "trial.ticks_difference": unmeasured,
        "family": "no earlier lots were given, or they share no number with this one",
        "shelf": "no shelf life is stated",
        "certificate.own": "the plant did not measure it",
        "certificate.own_u95": "the plant did not measure it, or stated no doubt",
        "certificate.certificate_u95": "the certificate states no doubt",
        "certificate.apart": "one of the two is not known, or neither states a doubt",
        "measured.value": unmeasured,
        "measured.u95": unmeasured or "it is exact, or no doubt is stated",
        **_family_reasons(part),
    }
    result.not_judged.extend(not_judged(result, reasons))
    result.not_judged.extend(
        NotJudged(key=f"findings.{quantity(f.limit.quantity).key}", reason=f.measurement.reason)
        for f in findings
        if f.measurement.value is None
    )
    return result


def _said(file: LotFile, decided: Decided) -> str:
    word = None if decided.decision is None else decided.decision.value
    why = listed([_shown(reason) for reason in decided.reasons[:4]])
    return f"Lot {file.id} of {file.material}: {_SAID[word]}{'; ' + why if why else ''}."


def _shown(reason: str) -> str:
    """A reason with the quantity in words."""
    name, _, rest = reason.partition(" ")
    return f"{QUANTITIES[name].words} {rest}" if name in QUANTITIES else reason


def _certificate(file: LotFile) -> list[printed.CertificateRow]:
    own = {row.quantity: row for row in file.own}
    found = []
    for row in file.certificate:
        q, mine = quantity(row.quantity), own.get(row.quantity)
        here, there = (None if r is None else _measured(r) for r in (mine, row))
        apart = None if mine is None else disagreement(mine, row)
        assert there is not None
        assert there.value is not None
        found.append(
            printed.CertificateRow(
                quantity=q.key, words=q.words, unit=q.shown_unit, certificate=there.value, certificate_u95=there.u95,
                own=None if here is None else here.value, own_u95=None if here is None else here.u95,
                apart=None if apart is None else round(apart, 4),
            )
        )  # fmt: skip
    return found


def _family(
    request: CompoundLotRequest, file: LotFile, judged: list[Measurement]
) -> tuple[FamilyPart | None, list[FileInput]]:
    """The lot as the newest of its material."""
    if request.family is None:
        return None, []
    earlier = load_family(request.family)
    source = [FileInput(file=earlier.name, sha256=earlier.digest)]
    mine = {row.quantity: row.value for row in judged}
    both = [k for k, q in enumerate(earlier.quantities) if isinstance(mine.get(q.id), float)]
    if not both:
        return None, source
    here = np.array([[mine[earlier.quantities[k].id] for k in both]], dtype=np.float64)
    name = f"{file.id} (this one)" if file.id in earlier.batches else file.id
    table = _Table(
        batches=(*earlier.batches, name),
        quantities=tuple(earlier.quantities[k] for k in both),
        numbers=np.vstack([earlier.numbers[:, both], here]),
        curves=None,
        dumps=None,
    )
    return _family_part(table, min(USUAL_BASELINE, len(earlier.batches))), source


def _trial(file: LotFile) -> printed.TrialRow | None:
    if not file.trial:
        return None
    level, ticks = (row.value for row in file.trial)
    return printed.TrialRow(
        stamper=file.stamper,
        surface_difference_db=round(level, 4) if isinstance(level, float) else None,
        ticks_difference=round(ticks, 1) if isinstance(ticks, float) else None,
    )


def _shelf(shelf: Shelf | None) -> printed.ShelfRow | None:
    if shelf is None:
        return None
    return printed.ShelfRow(life_days=shelf.life, age_days=shelf.age, left_days=shelf.left)


def _cautions(file: LotFile, mine: set[str]) -> list[str]:
    taken = [quantity(row.quantity).words for row in file.certificate if row.quantity not in mine]
    said = [f"Taken on the supplier's word: {listed(taken)}."] if taken else []
    bare = [quantity(row.quantity).words for row in file.own if row.u95 is None]
    if bare:
        said.append(f"Without a stated doubt, taken as exact: {listed(bare)}.")
    return said
