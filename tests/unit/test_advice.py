"""Who has to act, from invented judged recordings: what the copies bear out is said, what they leave open too."""

from dataclasses import replace

from runtrue.contract.listening import Jump, Listening, Tick, Train, VerdictWord
from runtrue.workflow.advice import Advice, Span, advise, opening
from runtrue.workflow.judged import Judged, sides_of
from tests import paper_samples as samples

SPANS = (
    Span(stamper="S1", side="A", first=1, last=520),
    Span(stamper="S2", side="A", first=521, last=980),
    Span(stamper="T2", side="B", first=1, last=980),
)
LOUD = 40.0


def tick(time: float, prominence: float = LOUD, *, u95: float = 0.0004, train: int | None = None) -> Tick:
    return replace(samples.tick_at(time, prominence, train=train), u95_s=u95)


def failing(listening: Listening, *quantities: str) -> Listening:
    rows = [
        replace(row, verdict="fail", conformance_probability=0.001) if row.quantity in quantities else row
        for row in listening.findings
    ]
    verdict: VerdictWord = "fail" if quantities else "pass"
    return replace(listening, findings=rows, verdict=verdict)


def copy(
    closure: int,
    stamper: str = "S1",
    *ticks: Tick,
    fails: tuple[str, ...] = (),
    base: Listening | None = None,
    side: str = "A",
    note: str = "",
) -> Judged:
    listening = failing(replace(base or samples.judged(), ticks=list(ticks)), *fails)
    recording = replace(listening.input, sha256=f"{closure}-{side}-{note}")  # no two are one recording
    listening = replace(listening, input=recording)
    return Judged(
        copy=f"copy {closure}", side=side, closure=closure, stamper=stamper, batch="K-1", note=note,
        listening=listening, traces=samples.traces(),
    )  # fmt: skip


def only(found: list[Advice]) -> Advice:
    assert len(found) == 1, [one.found for one in found]
    return found[0]


def test_copies_that_pass_need_nobody() -> None:
    run = [copy(24), copy(187, "S1", tick(33.0, 14.0)), copy(600, "S2")]
    assert advise(run, SPANS) == []
    assert opening(run, []).said == "All 3 copies pass."
    assert opening(run, []).act == ""
    assert opening([], []).said == "No copy was played."


def test_a_tick_on_every_copy_of_every_stamper_is_in_the_mother_or_older() -> None:
    run = [copy(k, s, tick(71.4)) for k, s in ((24, "S1"), (187, "S1"), (600, "S2"))]
    found = only(advise(run, SPANS))
    assert "Every copy that could show it has one tick at 1:11.4 of side A." in found.found
    assert "mother" in found.found
    assert "the player" in found.found, "all were played on one rig"
    assert "Inside the limit: no record is held for it." in found.act
    assert found.hold is None


def test_a_tick_that_starts_at_a_stamper_is_told_with_the_gap_that_was_not_played() -> None:
    late = [copy(k, "S1", tick(125.3), fails=("ticks_per_side",)) for k in (312, 440)]
    run = [copy(24), copy(187), *late, copy(600, "S2")]
    found = only(advise(run, SPANS))
    assert "Copies 312 to 440 of stamper S1 share one tick at 2:05.3 of side A" in found.found
    assert "it begins between 188 and 312 and is still on the last copy played" in found.found
    assert found.hold == (188, 520)
    assert "Clean stamper S1" in found.act
    said = opening(run, [found])
    assert said.said == "Copies 312 to 440 of stamper S1 share one tick at 2:05.3 of side A: hold them."
    assert said.act == "Hold closures 188 to 520."
    assert said.detail.startswith("2 of 5 copies fail.")


def test_a_tick_that_was_cleared_is_held_from_to() -> None:
    late = [copy(k, "S1", tick(125.3), fails=("ticks_per_side",)) for k in (181, 352)]
    found = only(advise([copy(168), *late, copy(371), copy(600, "S2")], SPANS))
    assert "it begins between 169 and 181 and ends between 352 and 370" in found.found
    assert found.hold == (169, 370)


def test_a_copy_that_cannot_show_it_is_no_witness() -> None:
    unheard = copy(187)
    short = replace(unheard.listening, programme=replace(unheard.listening.programme, reach_s=(0.0, 60.0)))
    run = [copy(24), replace(unheard, listening=short), copy(312, "S1", tick(125.3)), copy(440, "S1", tick(125.3))]
    (row,) = sides_of(run)["A"].recurrences
    assert (row.without, row.untold) == (["copy 24"], ["copy 187"])
    assert row.from_closure is not None
    assert row.from_closure[0] < 60
    assert "Copy 187 cannot say" in only(advise(run, SPANS)).found


def test_a_copy_too_noisy_to_show_it_is_named() -> None:
    noisy = replace(copy(187).traces, noise_db_a=[-20.0] * len(samples.traces().programme_s))
    run = [copy(24, "S1", tick(125.3)), replace(copy(187), traces=noisy), copy(312, "S1", tick(125.3))]
    assert "Copy 187 cannot say" in only(advise(run, SPANS)).found


def test_two_ticks_are_one_mark_within_their_doubt_and_no_further() -> None:
    def shared(apart: float) -> bool:
        run = [copy(24, "S1", tick(125.3, u95=2e-5)), copy(187, "S1", tick(125.3 + apart, u95=2e-5))]
        return bool(sides_of(run)["A"].recurrences)

    assert shared(1e-4)
    assert not shared(1e-3)


def test_two_copies_full_of_crackle_do_not_agree_by_more_than_chance() -> None:
    crackle = [tick(0.1 * k, 15.0) for k in range(1, 1900)]
    other = [tick(0.1 * k + (0.0 if k == 40 else 0.05), 15.0) for k in range(1, 1900)]
    assert sides_of([copy(24, "S1", *crackle), copy(187, "S1", *other)])["A"].recurrences == []


def test_dirt_that_a_wash_took_off_is_no_fault_of_the_disc() -> None:
    dirty = replace(copy(24, "S1", tick(12.0), tick(99.0), fails=("ticks_per_side",), note="dirty"), washed=False)
    run = [dirty, replace(copy(24, note="washed"), washed=True), copy(600, "S2")]
    found = only(advise(run, SPANS))
    assert found.found.startswith("Copy 24 was dirty: 2 ticks of side A went when it was washed")
    assert opening(run, [found]).said == "All 2 copies pass."


def _off(closure: int, direction: float, *, stamper: str = "S1", side: str = "A", offset: float = 268.0) -> Judged:
    base = samples.judged(offset=offset, direction=direction, u95=38.0)
    fails = ("off_centre_offset",) if offset > 200.0 else ()
    return copy(closure, stamper, base=base, fails=fails, side=side)


def test_one_offset_on_all_copies_of_a_stamper_changes_the_stamper() -> None:
    run = [_off(24, 140.0), _off(187, 143.0), copy(600, "S2")]
    found = only(advise(run, SPANS))
    assert found.found.startswith("Stamper S1 runs 268")
    assert "every copy played (copies 24 and 187)" in found.found
    assert "Change S1" in found.act
    assert found.hold == (1, 520)


def test_offsets_that_point_apart_are_not_the_stamper() -> None:
    found = only(advise([_off(24, 140.0), _off(187, 320.0)], SPANS))
    assert "Change" not in found.act
    assert found.hold is None


def test_both_sides_off_centre_share_the_hole() -> None:
    run = [_off(24, 140.0), _off(24, 140.0, stamper="T2", side="B")]
    found = advise(run, SPANS)
    assert found
    assert all("centre pin" in one.found + one.act for one in found)
    assert not any("Change" in one.act for one in found)


def test_the_other_side_inside_the_limit_clears_the_hole() -> None:
    run = [_off(24, 140.0), _off(24, 10.0, stamper="T2", side="B", offset=40.0)]
    assert "inside the limit: it is this stamper" in only(advise(run, SPANS)).found


def test_two_pushes_lose_the_slack_but_not_what_they_share() -> None:
    off = samples.judged().off_centre

    def pushed(way: str, offset: float, direction: float) -> Judged:
        one = _off(24, 90.0)
        played = replace(samples.centre(offset, direction, 5.0), offset_u95_um=4.0)
        disc = replace(samples.centre(offset, direction, 45.0), offset_u95_um=40.0)
        listening = replace(one.listening, off_centre=replace(off, played=played, disc=disc))
        return replace(one, note=f"pushed {way}", listening=listening)

    found = only(advise([pushed("away", 300.0, 90.0), pushed("toward", 220.0, 90.0)], SPANS))
    assert "260.0 ± 4.0 μm off centre" in found.found
    assert "the one copy played, in 2 placings" in found.found


def test_another_programme_stops_the_press() -> None:
    base = samples.empty("other")[0]
    wrong = replace(copy(930, "S2"), listening=base)
    found = only(advise([copy(600, "S2"), wrong], SPANS))
    assert "another programme under label A; it begins between closures 600 and 930" in found.found
    assert found.act.startswith("Stop the press")
    assert found.hold == (601, 980)


def test_what_one_copy_has_is_that_copys() -> None:
    jumping = replace(samples.judged(), jumps=[Jump(programme_s=61.0, turns=-1), Jump(programme_s=61.0, turns=-1)])
    train = Train(id=1, count=5, period_s=samples.PERIOD, from_s=83.4, to_s=90.6)
    scratched = replace(samples.judged(), trains=[train])
    loud = tuple(tick(83.4 + samples.PERIOD * k, train=1) for k in range(5))
    run = [
        copy(24),
        copy(187, base=jumping, fails=("jumps_per_side",)),
        copy(312, "S1", *loud, base=scratched, fails=("ticks_per_side",)),
        copy(440, "S1", tick(12.0, 15.0), tick(99.0, 45.0), fails=("ticks_per_side",)),
        copy(500, fails=("surface",)),
        copy(510),
    ]
    found = {one.copies[0]: one for one in advise(run, SPANS)}
    assert list(found) == ["copy 187", "copy 312", "copy 440", "copy 500"]
    assert "falls back and repeats twice at 1:01.0 of side A" in found["copy 187"].found
    assert "scratched: 5 ticks, one each turn, from 1:23.4 to 1:30.6" in found["copy 312"].found
    assert "the loudest at 1:39.0" in found["copy 440"].found
    assert found["copy 500"].station == "compound"
    assert "Closures 440 before it and 510 after it are quiet." in found["copy 500"].found


def test_what_cannot_be_judged_is_no_pass() -> None:
    listening, traces = samples.empty("unclear")
    unclear = Judged(copy="copy 5", side="A", closure=5, stamper="S1", listening=listening, traces=traces)
    run = [copy(24), unclear]
    assert advise(run, SPANS) == []
    assert opening(run, []).said == "No copy of 2 fails, 1 cannot be judged."
