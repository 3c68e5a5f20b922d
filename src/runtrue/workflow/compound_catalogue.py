"""The actions of the compound station."""

from typing import TYPE_CHECKING, Any

from runtrue.workflow.actions import Action, Role
from runtrue.workflow.compound_requests import (
    CompoundBalanceRequest,
    CompoundBatchRequest,
    CompoundBlendRequest,
    CompoundChargeRequest,
    CompoundFamilyRequest,
    CompoundLotRequest,
    CompoundSheetRequest,
    CompoundTraceRequest,
    CompoundWeighRequest,
)

if TYPE_CHECKING:
    from runtrue.contract.blend import Blend
    from runtrue.contract.charge import ChargeSheet

_EXITS = {"pass": 0, "fail": 3, "cannot_judge": 4, None: 0}


def _by_verdict(outcome: Any) -> int:
    return _EXITS[outcome.verdict]


def _by_stock(outcome: "ChargeSheet") -> int:
    return 0 if outcome.ready else 3


def _done(_outcome: object) -> int:
    return 0


def _by_found(outcome: "Blend") -> int:
    return 0 if outcome.found else 3


COMPOUND = (
    Action(
        station="compound",
        verb="lot",
        summary="Decide on a supplier's lot: accept, use with care, refuse.",
        text=(
            "Lays the plant's own tests (or the certificate's where there are none) beside limits and beside earlier "
            "lots, "
            "compares the two, counts the shelf life, and takes in a trial pressing on a proved stamper by its `listen "
            "check` results. What a limit asks for and nobody measured holds the lot."
        ),
        request=CompoundLotRequest,
        result="runtrue.contract.compound_store:LotResult",
        function="runtrue.workflow.compound_lot:judge_lot",
        exit_code=_by_verdict,
        exits="0 accept, 3 refuse, 4 with care or not yet, 2 argument or file not usable, 5 disk or rights",
        example="runtrue compound lot lot.toml --limits lot-limits.toml --on 2026-11-25",
        role=Role.COMPOUNDER,
        writes=False,
        long=False,
    ),
    Action(
        station="compound",
        verb="charge",
        summary="Say what to weigh for one batch of a formula.",
        text=(
            "Works out the mass of each ingredient as it lies in the store from its percentage and what that is of, "
            "its "
            "moisture, assay or solution strength; takes it from the lots, oldest first; says its tolerance and the "
            "division of the scale it needs, the order of addition, the water carried in, density, fill of the "
            "chamber, "
            "biscuits and cost. Percentages that do not close are refused, with the basis on which they would. "
            "--sheet prints a sheet to weigh and sign by."
        ),
        request=CompoundChargeRequest,
        result="runtrue.contract.charge:ChargeSheet",
        function="runtrue.workflow.compound_charge:make_charge",
        exit_code=_by_stock,
        exits="0 done, 3 the lots do not reach, 2 argument or file not usable, 5 disk or rights",
        example="runtrue compound charge invented-78-kiln-black --batch-kg 100 --format 10in-78",
        role=Role.COMPOUNDER,
        writes=True,
        long=False,
    ),
    Action(
        station="compound",
        verb="weigh",
        summary="Judge each weighing of a charge as it arrives, and say what helps.",
        text=(
            "Names what is double, missing, swapped, out of tolerance or foreign, and what it does to the formula. "
            "Before fluxing it says how much of each to add so that the mix is the formula again and still goes into "
            "the "
            "mixer; after it whether the batch is held or refused."
        ),
        request=CompoundWeighRequest,
        result="runtrue.contract.weighed:Weighed",
        function="runtrue.workflow.compound_weigh:weigh",
        exit_code=_by_verdict,
        exits="0 weighed as asked, 3 not as asked, 4 weigh again, 2 argument or file not usable, 5 disk or rights",
        example="runtrue compound weigh charge.json weighings.csv",
        role=Role.COMPOUNDER,
        writes=False,
        long=False,
    ),
    Action(
        station="compound",
        verb="blend",
        summary="Find the nearest formula that the store allows.",
        text=(
            "For a lot that is short, wet or off: the formula nearest to the one asked for, or the cheapest, within "
            "bounds "
            "on classes, ratios, density, cost, water and named properties, bags taken whole. It says which limits "
            "bind "
            "and what one step of each would give; where no formula keeps them all it says which clash. Regrind is "
            "held "
            "to its heat history and dirt, and never mixed with another colour."
        ),
        request=CompoundBlendRequest,
        result="runtrue.contract.blend:Blend",
        function="runtrue.workflow.compound_blend:make_blend",
        exit_code=_by_found,
        exits="0 found, 3 the limits clash, 2 argument or file not usable, 5 disk or rights",
        example="runtrue compound blend invented-78-kiln-black --batch-kg 100 --bounds bounds.toml",
        role=Role.COMPOUNDER,
        writes=True,
        long=False,
    ),
    Action(
        station="compound",
        verb="batch",
        summary="Judge one batch by the log of its mixer.",
        text=(
            "Measures net energy, temperature and time at dump, heat balance and the peaks of power, and lays them "
            "beside "
            "the dump rule (a limits file). With a family it says whether the batch's numbers and its power curve are "
            "like those of the batches before."
        ),
        request=CompoundBatchRequest,
        result="runtrue.contract.batch:BatchResult",
        function="runtrue.workflow.compound_batch:judge_batch",
        exit_code=_by_verdict,
        exits="0 pass or only measured, 3 fail, 4 cannot judge, 2 argument or file not usable, 5 disk or rights",
        example="runtrue compound batch mixer.csv --batch-kg 104 --idle-kw 12 --limits dump.toml",
        role=Role.COMPOUNDER,
        writes=False,
        long=False,
    ),
    Action(
        station="compound",
        verb="family",
        summary="Say whether batches are like the others of their family.",
        text=(
            "Charts each number of the batches after a baseline: single values, a mean that remembers, and all numbers "
            "together. It names the number that is out and since which batch. Fewer than 15 batches cannot judge. "
            "--chart prints the charts."
        ),
        request=CompoundFamilyRequest,
        result="runtrue.contract.batch:FamilyResult",
        function="runtrue.workflow.compound_batch:judge_family",
        exit_code=_by_verdict,
        exits="0 like the family, 3 not, 4 cannot judge, 2 argument or file not usable, 5 disk or rights",
        example="runtrue compound family family.csv",
        role=Role.COMPOUNDER,
        writes=True,
        long=False,
    ),
    Action(
        station="compound",
        verb="sheet",
        summary="Chart sheet and biscuits, and say whether they are capable.",
        text=(
            "Takes readings of thickness, mass and temperature in order: whether the process is in control, since when "
            "not, and its capability in the limits with its interval."
        ),
        request=CompoundSheetRequest,
        result="runtrue.contract.compound_store:SheetResult",
        function="runtrue.workflow.compound_masses:judge_sheet",
        exit_code=_by_verdict,
        exits="0 in control and capable, 3 not, 4 cannot judge, 2 argument or file not usable, 5 disk or rights",
        example="runtrue compound sheet biscuits.csv --limits biscuit-limits.toml",
        role=Role.COMPOUNDER,
        writes=False,
        long=False,
    ),
    Action(
        station="compound",
        verb="balance",
        summary="Add up what went in and what came out.",
        text=(
            "Compound and regrind in against discs, flash, purge, rejects and what is held; the gap with its doubt, "
            "the "
            "yield, the share of regrind and what there is to grind."
        ),
        request=CompoundBalanceRequest,
        result="runtrue.contract.compound_store:BalanceResult",
        function="runtrue.workflow.compound_masses:make_balance",
        exit_code=_by_verdict,
        exits="0 inside the limit or no limit given, 3 outside, 4 cannot judge, 2 argument or file not usable, "
        "5 disk or rights",
        example="runtrue compound balance masses.csv --gap-limit-percent 2",
        role=Role.COMPOUNDER,
        writes=False,
        long=False,
    ),
    Action(
        station="compound",
        verb="trace",
        summary="Follow a lot to its press hours, or press hours to their lots.",
        text=(
            "Lot, batch, biscuits and press hours are linked by intervals of the biscuits' count with a slack at their "
            "ends, so that each answer says surely or maybe."
        ),
        request=CompoundTraceRequest,
        result="runtrue.contract.compound_store:TraceResult",
        function="runtrue.workflow.compound_masses:trace",
        exit_code=_done,
        exits="0 done, 2 argument or file not usable, 5 disk or rights",
        example="runtrue compound trace links.csv --lot SH-0411",
        role=Role.COMPOUNDER,
        writes=False,
        long=False,
    ),
)
"""In the order of the job."""
