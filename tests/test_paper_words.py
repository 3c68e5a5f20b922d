"""Numbers to the place of their doubt, and sentences a newcomer understands."""

from dataclasses import replace

import pytest

from runtrue.paper import words
from runtrue.paper.words import NO_BREAK
from tests import paper_samples as samples


@pytest.mark.parametrize(
    ("value", "u95", "shown"),
    [
        (267.8, 31.4, "268 ± 31 μm"),
        (0.1632, 0.0496, "0.163 ± 0.050 μm"),
        (12.34, 0.996, "12.3 ± 1.0 μm"),
        (1234.0, 312.0, "1230 ± 310 μm"),
        (-61.84, 0.8, "−61.84 ± 0.80 μm"),
        (9.96, 9.96, "10.0 ± 10.0 μm"),
        (5.0, None, "5.0 μm"),
        (5.0, 0.0, "5.0 μm"),
    ],
)
def test_value_goes_to_the_place_of_its_doubt(value: float, u95: float | None, shown: str) -> None:
    found = str(words.number(value, u95, "μm", decimals=1)).replace(NO_BREAK, " ")
    assert found == shown.replace("10.0 ± 10.0", "10 ± 10")


def test_minus_is_the_sign_and_micro_is_greek() -> None:
    told = words.fixed(-1.25, 2)
    assert told == "\u22121.25"
    assert "\u03bc" in words.limit_words(samples.passes()[0].findings[0])


@pytest.mark.parametrize(
    ("sample", "said"),
    [
        ("passes", "Copy 5 passes: inside all 5 limits."),
        ("off_centre", "Copy 5 fails: 268 ± 31 μm off-centre, limit 200."),
        ("ticks", "Copy 5 fails: a tick at 1:27.0 stands 31.20 ± 0.90 dB over the noise, limit 30."),
        ("jumps_and_zones", "Copy 5 fails: 2 jumps at 1:01.0 and 2:00.4, none allowed."),
        (
            "cannot_judge",
            "Copy 5 cannot be judged: 163 ± 50 μm off-centre, limit 200; odds inside the limit 91 in 100, "
            "95 are asked for.",
        ),
        ("unclear", "Copy 5 cannot be judged: the recording does not show which programme it holds."),
        ("other", "Copy 5 fails: it holds another programme than the reference."),
    ],
)
def test_sentence_says_what_was_found(sample: str, said: str) -> None:
    listening, _ = samples.SAMPLES[sample]()
    assert words.sentence("Copy 5", listening, places=True).replace(NO_BREAK, " ") == said


def test_sentence_ends_with_the_advice_it_is_given() -> None:
    listening, _ = samples.fails_off_centre()
    said = words.sentence("Copy 5", listening, "Change the stamper or punch a new one.")
    assert said.endswith("limit 200. Change the stamper or punch a new one.")


def test_a_limit_on_the_swing_is_called_swing() -> None:
    row = samples.row("off_centre_swing_um", "off-centre, swing", "μm", 520.0, 60.0, upper=400.0, verdict="fail")
    assert words.found(row).replace(NO_BREAK, " ") == "520 ± 60 μm swing, limit 400"


def test_headline_over_copies() -> None:
    good, bad, doubtful = samples.passes()[0], samples.fails_off_centre()[0], samples.cannot_judge()[0]
    assert words.headline({"copy 1": [good], "copy 2": [good]}) == "All 2 copies pass."
    copies = {"copy 1": [good, bad], "copy 2": [good], "copy 3": [doubtful], "copy 4": []}
    assert words.headline(copies) == "Copy 1 fails on off-centre, copy 3 cannot be judged."
    copies["copy 5"] = [bad]
    assert words.headline(copies) == "2 of 4 copies fail, copy 3 cannot be judged."
    told = words.details(copies)
    assert told == "Fail: copy 1 (off-centre); copy 5 (off-centre). Cannot be judged: copy 3 (off-centre)."
    assert words.headline({"copy 1": [bad], "copy 2": [bad]}) == "All 2 copies fail."
    assert words.headline({"copy 1": []}) == "No copy was played."
    assert words.details({"copy 1": [good]}) == ""


def test_few_limits_are_counted_in_words() -> None:
    listening = samples.judged()
    both = replace(listening, findings=listening.findings[:2])
    assert words.sentence("Copy 3", both) == "Copy 3 passes: inside both limits."
    none = replace(listening, findings=[])
    assert words.sentence("Copy 3", none) == "Copy 3 passes."


def test_odds_are_never_certain() -> None:
    assert words.odds(1.0) == "over 99 in 100"
    assert words.odds(0.0) == "under 1 in 100"


def test_not_measured_is_said_and_never_a_number() -> None:
    row = samples.row("surface", "surface noise (A)", "dB", None, None, upper=-55.0, verdict="cannot_judge", p=None)
    assert str(words.finding_number(row)) == "not measured"
    assert words.found(row) == "surface noise (A) not measured"


def test_right_programme_is_no_number() -> None:
    row = samples.row("programme_identity", "programme", "", 1.0, None, lower=1.0)
    assert str(words.finding_number(row)) == "as the reference"
    assert words.limit_words(row) == ""
    listening = samples.judged()
    with_identity = replace(listening, findings=[row, *listening.findings])
    assert words.sentence("Copy 3", with_identity) == "Copy 3 passes: inside all 5 limits."
