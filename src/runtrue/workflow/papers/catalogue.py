"""The papers there are, in the order of the job."""

from functools import cache

from runtrue.errors import unknown_name
from runtrue.workflow.actions import Role
from runtrue.workflow.papers import ask_job, ask_press, ask_ship
from runtrue.workflow.papers.paper import Paper

_HERE = "runtrue.workflow.papers"

EXAMPLE_KEY = "0417" * 16
"""Key of the analysis in the example."""

PAPERS = (
    Paper(
        verb="ticket", summary="Open a job: the job ticket.",
        text="One title, one format, one order, with the matrix number of each side. It travels with metal, labels and "
        "discs; everything else refers to its job number.",
        request=ask_job.TicketRequest, function=f"{_HERE}.job:ticket", role=Role.OFFICE,
        example="runtrue book ticket --job J-12 --title 'Harbour Songs' --format 7in-45 --ordered 500 "
        "--matrix-a HS-1-A",
    ),
    Paper(
        verb="side", summary="Add a side to a job.",
        text="For sets of more than one disc; sides A and B are on the ticket.",
        request=ask_job.SideRequest, function=f"{_HERE}.job:side", role=Role.OFFICE,
        example="runtrue book side --job J-11 --side C --matrix QRW-0417-C",
    ),
    Paper(
        verb="metal", summary="Enter a piece in the metal register.",
        text="Cut, father, mother or stamper, with the piece it was grown from: the family tree of a side. A piece of "
        "another matrix, or of the wrong generation, is refused as a parent.",
        request=ask_job.MetalRequest, function=f"{_HERE}.job:metal", role=Role.ENGINEER,
        example="runtrue book metal --metal A-M1-S3 --matrix QRW-0417-A --generation stamper --parent A-M1",
    ),
    Paper(
        verb="card", summary="Write on the card of a stamper or mother.",
        text="What became of it, or a repair with its place by programme time and angle. Impressions are not written "
        "by hand: they are counted from the runs.",
        request=ask_job.CardRequest, function=f"{_HERE}.job:card", role=Role.ENGINEER,
        example="runtrue book card --metal A-M1 --state repaired --programme-s 71.4 --angle-deg 212 "
        "--inspector 'N. Calder'",
    ),
    Paper(
        verb="batch", summary="Enter the head of a compound batch sheet.",
        text="Its ingredients follow with `runtrue book weighing`, its way to the press with `runtrue book issue`.",
        request=ask_job.BatchRequest, function=f"{_HERE}.job:batch", role=Role.COMPOUNDER,
        example="runtrue book batch --batch K-90 --formula 'Kiln Black 3' --mass-kg 120",
    ),
    Paper(
        verb="weighing", summary="Enter an ingredient of a batch.",
        text="Ingredient, supplier's lot, mass set and weighed, who weighed and who checked.",
        request=ask_job.WeighingRequest, function=f"{_HERE}.job:weighing", role=Role.COMPOUNDER,
        example="runtrue book weighing --batch K-88 --ingredient shellac --lot SH-0411 --mass-kg 13.776",
    ),
    Paper(
        verb="issue", summary="Take compound to a press.",
        text="What is brought back is entered with a minus.",
        request=ask_job.IssueRequest, function=f"{_HERE}.job:issue", role=Role.COMPOUNDER,
        example="runtrue book issue --batch K-88 --run R1 --mass-kg 25",
    ),
    Paper(
        verb="labels", summary="Enter a lot of labels.",
        text="Labels of one side as they came from the printer.",
        request=ask_job.LabelsRequest, function=f"{_HERE}.labels:labels", role=Role.OFFICE,
        example="runtrue book labels --lot L-A2 --job J-11 --side A --received 1100",
    ),
    Paper(
        verb="drying", summary="Log the drying of labels, with the weight-loss check.",
        text="A sample stack is weighed, put in the oven again and weighed again: what still loses mass is still damp "
        "(common practice, no source). With a limit and the scale's uncertainty the loss is judged.",
        request=ask_job.DryingRequest, function=f"{_HERE}.labels:drying", role=Role.PRESS,
        example="runtrue book drying --lot L-A --before-g 212.4 --after-g 212.3 --scale-u95-g 0.1 --limit-percent 0.5",
        judges=True,
    ),
    Paper(
        verb="set-up", summary="Begin a run: the set-up sheet.",
        text="What is on the press, with line clearance and the identity check: scribing, register and ticket must "
        "name one matrix for each side. A press with two cavities has a run for each.",
        request=ask_press.SetUpRequest, function=f"{_HERE}.press:set_up", role=Role.PRESS,
        example="runtrue book set-up --run R2 --job J-11 --press P3 --stamper-a A-M1-S1 --stamper-b B-M1-S1 "
        "--scribing-a QRW-0417-A --scribing-b QRW-0417-B --clearance pass",
        judges=True,
    ),
    Paper(
        verb="change", summary="Note a change on the press.",
        text="A stamper of one side, batch, labels, settings or operator, from a closure on. A and B stampers change "
        "separately; what was there before ends there.",
        request=ask_press.ChangeRequest, function=f"{_HERE}.press:change", role=Role.PRESS,
        example="runtrue book change --run R1 --what settings --to 'steam 9 s, water 13 s'",
        judges=True,
    ),
    Paper(
        verb="first-off", summary="Sign the first-off card.",
        text="Identity, centre, fill, flatness, edge, labels and hearing of the first good record. What was not "
        "checked is not passed; the press waits.",
        request=ask_press.FirstOffRequest, function=f"{_HERE}.press:first_off", role=Role.QUALITY,
        example="runtrue book first-off --run R1 --closure 4 --identity pass --centre pass --fill pass --flatness pass "
        "--edge pass --labels pass --heard pass",
        judges=True,
    ),
    Paper(
        verb="read", summary="Read the press counter: a line of the run sheet.",
        text="The closures since the last reading were made. A counter that is set back is read once more first, with "
        "--set-to. A press with two cavities is read once for both.",
        request=ask_press.ReadRequest, function=f"{_HERE}.press:read", role=Role.PRESS,
        example="runtrue book read --press P2 --counter 990",
    ),
    Paper(
        verb="end", summary="End a run: the last line of the run sheet.",
        text="The counter is read for the last time; nothing counts on afterwards, and its stampers are off the press. "
        "A run whose cavity is set up anew has ended by itself.",
        request=ask_press.EndRequest, function=f"{_HERE}.press:end", role=Role.PRESS,
        example="runtrue book end --run R1 --counter 985",
    ),
    Paper(
        verb="blank", summary="Note blank closures.",
        text="The press closed on nothing: it counted, and made no record.",
        request=ask_press.BlankRequest, function=f"{_HERE}.press:blank", role=Role.PRESS,
        example="runtrue book blank --run R1 --first 978",
    ),
    Paper(
        verb="warm-up", summary="Discard warm-up records.",
        text="The first closures of a run or after a stop, by their numbers.",
        request=ask_press.WarmUpRequest, function=f"{_HERE}.press:warm_up", role=Role.PRESS,
        example="runtrue book warm-up --run R1 --first 977 --last 977",
    ),
    Paper(
        verb="stop", summary="Note that the press stood.",
        text="How long, why, after which closure.",
        request=ask_press.StopRequest, function=f"{_HERE}.press:stop", role=Role.PRESS,
        example="runtrue book stop --run R1 --minutes 12 --cause 'water low'",
    ),
    Paper(
        verb="reject", summary="Take out records by reason.",
        text="Scrapped, or held for a decision; with their closures where they are known.",
        request=ask_press.RejectRequest, function=f"{_HERE}.press:reject", role=Role.PRESS,
        example="runtrue book reject --run R1 --records 2 --cause non-fill",
    ),
    Paper(
        verb="sample", summary="Take a copy out and note its closure.",
        text="Without the closure nothing can be bracketed. One beyond the counter is refused.",
        request=ask_press.SampleRequest, function=f"{_HERE}.press:sample", role=Role.LISTENER,
        example="runtrue book sample --run R1 --sample c9 --closure 979",
    ),
    Paper(
        verb="play", summary="Note a placing of a sample on a player.",
        text="`runtrue listen check --sample` writes it by itself.",
        request=ask_press.PlayRequest, function=f"{_HERE}.press:play", role=Role.LISTENER,
        example="runtrue book play --sample c1 --side A --player 'bench 1' --placing 2 --push away",
    ),
    Paper(
        verb="heard", summary="Note what a listener says of a place on a recording.",
        text="Heard, not heard or objectionable, at a programme time; who writes it is the listener. The pages' "
        "buttons write the same.",
        request=ask_press.HeardRequest, function=f"{_HERE}.press:heard", role=Role.LISTENER,
        example=f"runtrue book heard --analysis {EXAMPLE_KEY} --programme-s 125.3 --word objectionable",
    ),
    Paper(
        verb="pile", summary="Tag a pile: its closures, and until when it rests.",
        text="The counter is read when the pile is full; the pile holds the closures since the pile before. A hand "
        "count that differs becomes a difference of its own, and says where to look.",
        request=ask_press.PileRequest, function=f"{_HERE}.piles:pile", role=Role.PRESS,
        example="runtrue book pile --run R1 --pile 20 --counter 980 --rest-hours 8",
    ),
    Paper(
        verb="release", summary="Release a pile that has rested.",
        text="Good, held and scrapped. A pile released before its rest is over is cautioned, not refused.",
        request=ask_press.ReleaseRequest, function=f"{_HERE}.piles:release", role=Role.SHIFT_LEAD,
        example="runtrue book release --run R1 --pile 19",
    ),
    Paper(
        verb="reconcile", summary="Reconcile the labels of a lot at a run.",
        text="Issued = used + spoiled + returned, and A used = B used = closures less blanks: `runtrue book balance` "
        "compares.",
        request=ask_job.ReconcileRequest, function=f"{_HERE}.labels:reconcile", role=Role.PRESS,
        example="runtrue book reconcile --lot L-A --run R1 --issued 1000 --used 970 --spoiled 4 --returned 26",
    ),
    Paper(
        verb="box", summary="Pack records into a box.",
        text="From a released pile, off its top if nothing else is said: which closures they are follows from how the "
        "pile was stacked.",
        request=ask_ship.BoxRequest, function=f"{_HERE}.shipping:box", role=Role.SHIPPING,
        example="runtrue book box --run R1 --pile 18 --box 37 --records 5",
    ),
    Paper(
        verb="pallet", summary="Put a box on a pallet.",
        text="One line for each box of the pallet sheet.",
        request=ask_ship.PalletRequest, function=f"{_HERE}.shipping:pallet", role=Role.SHIPPING,
        example="runtrue book pallet --pallet PL-2 --job J-11 --box 36",
    ),
    Paper(
        verb="consign", summary="Send a pallet or a box away.",
        text="All that is on the pallet goes; the count is compared with the invoice.",
        request=ask_ship.ConsignRequest, function=f"{_HERE}.shipping:consign", role=Role.SHIPPING,
        example="runtrue book consign --consignment C-2 --job J-11 --box 36 --customer 'Weir Records'",
    ),
    Paper(
        verb="complaint", summary="Note a complaint.",
        text="A reported fault with copy, side and time; records that came back are counted.",
        request=ask_ship.ComplaintRequest, function=f"{_HERE}.shipping:complaint", role=Role.QUALITY,
        example="runtrue book complaint --complaint Q-2 --job J-11 --fault 'ticks on side A' --side A --box 9",
    ),
    Paper(
        verb="scrap", summary="Enter scrap and regrind.",
        text="Mass by kind and where it went; scrapped records end when they are ground up, sold or thrown away.",
        request=ask_ship.ScrapRequest, function=f"{_HERE}.shipping:scrap", role=Role.PRESS,
        example="runtrue book scrap --material flash --mass-kg 3.4 --run R1",
    ),
    Paper(
        verb="move", summary="Move records from one place to another.",
        text="Held ones are cleared, samples given or destroyed, a box opened again.",
        request=ask_ship.MoveRequest, function=f"{_HERE}.shipping:move", role=Role.QUALITY,
        example="runtrue book move --run R1 --records 1 --source sample --target destroyed --cause 'cut up'",
    ),
    Paper(
        verb="count", summary="Enter a hand count.",
        text="What differs from the book becomes an entry of its own; the book's count then is the hand's.",
        request=ask_ship.CountRequest, function=f"{_HERE}.shipping:count", role=Role.SHIPPING,
        example="runtrue book count --run R1 --place good --records 130",
    ),
    Paper(
        verb="gauge", summary="Log a gauge or player against what it should read.",
        text="Judged at its tolerance with the comparison's uncertainty; without one it cannot be judged.",
        request=ask_ship.GaugeRequest, function=f"{_HERE}.shipping:gauge", role=Role.QUALITY,
        example="runtrue book gauge --gauge S2 --quantity mass --unit g --reference 100 --reading 100.02 "
        "--tolerance 0.2 --u95 0.05",
        judges=True,
    ),
    Paper(
        verb="sign", summary="Sign the shift hand-over.",
        text="Its text is written from what happened; `runtrue book hand-over` shows it without signing.",
        request=ask_ship.SignRequest, function=f"{_HERE}.shipping:sign", role=Role.SHIFT_LEAD,
        example="runtrue book sign --shift early --since 2026-10-05T06:00Z --upto 2026-10-05T14:00Z",
    ),
    Paper(
        verb="withdraw", summary="Take back an entry that was wrong.",
        text="It no longer counts and stays to be read. What has only a wrong value is corrected: enter the paper "
        "again with --replaces.",
        request=ask_ship.WithdrawRequest, function=f"{_HERE}.shipping:withdraw", role=Role.SHIFT_LEAD,
        example="runtrue book withdraw 150 --reason 'entered twice'",
    ),
)  # fmt: skip
"""Every paper."""


@cache
def _by_request() -> dict[type, Paper]:
    return {paper.request: paper for paper in PAPERS}


def paper_of(request: type) -> Paper:
    """The paper that a request belongs to."""
    return _by_request()[request]


def paper(verb: str) -> Paper:
    """The paper of this name; raises ``InputError`` with the list."""
    for found in PAPERS:
        if found.verb == verb:
            return found
    raise unknown_name("paper", verb, [one.verb for one in PAPERS])
