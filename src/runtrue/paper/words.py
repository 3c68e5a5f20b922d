"""Numbers and sentences as the trade writes them: value and doubt to the same place, what was found, what to do."""

import re
from dataclasses import dataclass
from math import floor, isfinite, log10

from runtrue.contract.listening import FindingRow, Listening, VerdictWord
from runtrue.quantities import QUANTITIES, Quantity

MINUS = "\N{MINUS SIGN}"
NO_BREAK = "\N{NO-BREAK SPACE}"
LOUD_DB = 20.0
"""A loud tick stands so far over the local noise, as the quantity ``loud_ticks_per_side`` says."""
_ASKED = re.compile(r"pass at (0\.\d+)")

VERDICT_WORDS: dict[VerdictWord, str] = {"pass": "pass", "fail": "fail", "cannot_judge": "cannot judge"}
VERDICT_VERBS: dict[VerdictWord, str] = {"pass": "passes", "fail": "fails", "cannot_judge": "cannot be judged"}
CHANNEL_WORDS = {"L": "left", "R": "right", "lateral": "lateral", "vertical": "vertical"}
BURST_WORDS = {
    "non_fill_like": "like a non-fill",
    "tearing_like": "like tearing",
    "noise_zone": "noise zone",
    "thump": "thump",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A number ready to print: ``value`` in bold, then ``doubt`` ("± 31 μm", or the unit alone) in the second voice."""

    value: str
    doubt: str

    def __str__(self) -> str:
        return f"{self.value}{NO_BREAK}{self.doubt}" if self.doubt else self.value


def fixed(value: float, decimals: int) -> str:
    """Write a value to a place with a real minus sign; decimals below 0 round to tens, hundreds.

    Examples
    --------
    >>> fixed(-61.84, 1)
    '−61.8'
    >>> fixed(1234.0, -1)
    '1230'
    >>> fixed(-0.01, 1)
    '0.0'
    """
    rounded = round(value, decimals) + 0.0
    text = f"{abs(rounded):.{max(decimals, 0)}f}"
    return MINUS + text if rounded < 0.0 else text


def decimals_of(u95: float) -> int:
    """Return the place of the second significant figure of a U95.

    Examples
    --------
    >>> [decimals_of(u) for u in (0.0496, 0.96, 0.996, 31.4, 312.0)]
    [3, 2, 1, 0, -1]
    """
    place = 1 - floor(log10(u95))
    return place if floor(log10(round(u95, place))) == floor(log10(u95)) else place - 1


def number(value: float, u95: float | None, unit: str, *, decimals: int) -> Shown:
    """Return value and U95 to the place of the U95's second significant figure.

    Without a U95, or with one of 0, ``decimals`` counts. The unit follows once, after the doubt.

    Examples
    --------
    >>> str(number(267.8, 31.4, "μm", decimals=0)).replace(NO_BREAK, " ")
    '268 ± 31 μm'
    >>> str(number(3.0, None, "", decimals=0))
    '3'
    """
    tail = f"{NO_BREAK}{unit}" if unit else ""
    if u95 is None or not isfinite(u95) or u95 <= 0.0:
        return Shown(value=fixed(value, decimals), doubt=unit)
    places = decimals_of(u95)
    return Shown(value=fixed(value, places), doubt=f"±{NO_BREAK}{fixed(u95, places)}{tail}")


def clock(seconds: float, *, tenths: bool = True) -> str:
    """Programme time as minutes and seconds; rounding carries into the minute.

    Examples
    --------
    >>> clock(83.44), clock(119.97), clock(1182.0, tenths=False), clock(-0.04)
    ('1:23.4', '2:00.0', '19:42', '0:00.0')
    """
    units = round(abs(seconds) * (10 if tenths else 1))
    sign = MINUS if seconds < 0 and units else ""
    whole, tenth = divmod(units, 10) if tenths else (units, 0)
    minutes, rest = divmod(whole, 60)
    return f"{sign}{minutes}:{rest:02d}" + (f".{tenth}" if tenths else "")


def count(how_many: int, one: str, many: str = "") -> str:
    """ "1 tick", "3 ticks", "no tick"."""
    if how_many == 0:
        return f"no {one}"
    return f"1 {one}" if how_many == 1 else f"{how_many} {many or one + 's'}"


def listed(words: list[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def odds(probability: float) -> str:
    """ "91 in 100"; never 0 and never 100, which no measurement earns.

    Examples
    --------
    >>> odds(0.912), odds(0.9999), odds(0.002)
    ('91 in 100', 'over 99 in 100', 'under 1 in 100')
    """
    if probability > 0.99:
        return "over 99 in 100"
    if probability < 0.01:
        return "under 1 in 100"
    return f"{round(probability * 100.0)} in 100"


def sentence_case(text: str) -> str:
    """The text with its first letter as a capital."""
    return text[:1].upper() + text[1:]


def copy_title(name: str) -> str:
    """A copy's name at the head of a sentence: "copy 5" becomes "Copy 5"; the name of a file stays as it is."""
    return sentence_case(name) if name.startswith("copy ") else name


def quantity_of(row: FindingRow) -> Quantity | None:
    """Return the quantity a finding is about, also when the row names it by its shown key."""
    for known in QUANTITIES.values():
        if row.quantity in (known.id, known.key):
            return known
    return None


def finding_number(row: FindingRow) -> Shown:
    """Return the number of a finding, or "not measured"."""
    if row.value is None:
        return Shown(value="not measured", doubt="")
    known = quantity_of(row)
    decimals = known.decimals if known else 1
    if known and known.id == "programme_identity":
        return Shown(value="as the reference" if row.value >= 0.5 else "another", doubt="")
    if known and known.si_unit == "1" and not known.shown_unit:
        return Shown(value=fixed(row.value, 0) if row.value else "none", doubt="")
    return number(row.value, row.u95, row.unit, decimals=decimals)


def bound(value: float, unit: str, decimals: int) -> str:
    """A limit's figure with its unit, without needless zeros."""
    text = fixed(value, max(decimals, 3))
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text}{NO_BREAK}{unit}" if unit else text


def limit_words(row: FindingRow) -> str:
    """ "at most 200 μm", "at least 3", "from −0.5 % to 0.5 %"."""
    known = quantity_of(row)
    decimals = known.decimals if known else 1
    if known and known.id == "programme_identity":
        return ""
    if row.upper == 0.0 and row.lower is None and not row.unit:
        return "none allowed"
    if row.lower is not None and row.upper is not None:
        return f"from {bound(row.lower, row.unit, decimals)} to {bound(row.upper, row.unit, decimals)}"
    if row.upper is not None:
        return f"at most {bound(row.upper, row.unit, decimals)}"
    return "" if row.lower is None else f"at least {bound(row.lower, row.unit, decimals)}"


def odds_words(row: FindingRow) -> str:
    """The odds that the true value is inside the limit, in words; empty when nothing was measured."""
    if row.conformance_probability is None or row.u95 is None:
        return ""
    return f"Odds inside the limit: {odds(row.conformance_probability)}."


def found(row: FindingRow, listening: Listening | None = None, *, places: bool = False) -> str:
    """What one finding says, as it stands after a copy's name: "268 ± 31 μm off-centre, limit 200".

    With the recording at hand, the loudest tick is told with its time, and with ``places`` up to three counted
    faults are too.
    """
    loudest = max((listening.ticks or []) if listening else [], key=lambda tick: tick.prominence_db, default=None)
    when = f" at {clock(loudest.programme_s)}" if loudest else ""
    known = quantity_of(row)
    name = row.words or (known.words if known else row.quantity)
    if row.value is None:
        return f"{name} not measured"
    figure = str(finding_number(row))
    nearest = row.upper if row.upper is not None and (row.lower is None or row.value > row.lower) else row.lower
    at = "" if nearest is None else f", limit {bound(nearest, '', known.decimals if known else 1)}"
    if nearest == 0.0 and not row.unit:
        at = ", none allowed"
    if known and known.id.startswith("off_centre"):
        how = "swing" if known.id.endswith("swing") else "off-centre"
        return f"{figure} {how}{at}"
    if known and known.id == "tick_prominence":
        return f"a tick{when} stands {figure} over the noise{at}"
    if known and known.id == "programme_identity":
        return "other programme than the reference"
    if known and not known.shown_unit and known.si_unit == "1":
        many = round(row.value)
        where = _times(known.id, many, listening if places else None)
        return f"{count(many, _one(name), name)}{where}{at}"
    return f"{name} {figure}{at}"


def _times(quantity_id: str, how_many: int, listening: Listening | None) -> str:
    """Where a few counted faults lie: ", at 1:11.4 and 2:05.3"; empty for many, or where the recording is not given."""
    if listening is None:
        return ""
    times = {
        "jumps_per_side": [jump.programme_s for jump in listening.jumps or []],
        "ticks_per_side": [tick.programme_s for tick in listening.ticks or []],
        "loud_ticks_per_side": [t.programme_s for t in listening.ticks or [] if t.prominence_db >= LOUD_DB],
    }.get(quantity_id, [])
    if len(times) != how_many or not 0 < how_many <= 3:
        return ""
    return f" at {listed(list(dict.fromkeys(clock(time) for time in times)))}"


def _one(name: str) -> str:
    return name[:-1] if name.endswith("s") else name


def deciding(listening: Listening) -> list[FindingRow]:
    """Return the findings that made the verdict, worst first: those of the verdict's own word."""
    rows = [row for row in listening.findings if row.in_verdict and row.verdict == listening.verdict]
    return sorted(rows, key=lambda row: row.conformance_probability if row.conformance_probability is not None else 2.0)


def sentence(label: str, listening: Listening, advice: str = "", *, places: bool = False) -> str:
    """Return what was found and what to do. ``advice`` comes from the workflow and is not made up here.

    ``places`` adds where a few counted faults lie, for pages that show the place.

    "Copy 5 fails: 268 ± 31 μm off-centre, limit 200. Change the stamper or punch a new one."
    """
    rows = deciding(listening)
    identity = listening.programme.identity
    if identity == "other":
        said = f"{label} fails: it holds another programme than the reference."
    elif identity == "unclear":
        said = f"{label} cannot be judged: the recording does not show which programme it holds."
    elif listening.verdict == "pass":
        bounds = [row for row in rows if limit_words(row)]
        inside = {1: "inside its limit", 2: "inside both limits"}.get(len(bounds), f"inside all {len(bounds)} limits")
        said = f"{label} passes: {inside}." if bounds else f"{label} passes."
    elif listening.verdict == "fail":
        reasons = "; ".join(found(row, listening, places=places) for row in rows)
        said = f"{label} fails: {reasons or 'out of limit'}."
    else:
        said = f"{label} cannot be judged: {_doubt(rows, listening)}."
    return f"{said} {advice}".strip()


def _doubt(rows: list[FindingRow], listening: Listening) -> str:
    if not rows:
        return "no limit is laid beside what was measured" if not listening.findings else "nothing could be measured"
    row = rows[0]
    if row.value is None or row.conformance_probability is None:
        return f"{row.words} not measured"
    asked = _ASKED.match(row.rule)
    wanted = f", {round(100.0 * float(asked[1]))} are asked for" if asked else ""
    return f"{found(row, listening)}; odds inside the limit {odds(row.conformance_probability)}{wanted}"


_WHY = {
    "off_centre_offset": "off-centre",
    "off_centre_swing": "off-centre",
    "tick_prominence": "a loud tick",
    "ticks_per_side": "ticks",
    "loud_ticks_per_side": "loud ticks",
    "audible_ticks_per_side": "audible ticks",
    "jumps_per_side": "jumps",
    "surface": "surface noise",
    "surface_quasi_peak": "surface noise",
    "programme_identity": "other programme",
}


def why(listening: Listening) -> str:
    """The verdict's reasons in a few words: "off-centre and ticks"; empty for a pass."""
    if listening.programme.identity == "other":
        return "other programme"
    if listening.programme.identity == "unclear":
        return "programme unclear"
    if listening.verdict == "pass":
        return ""
    known = [(row, quantity_of(row)) for row in deciding(listening)]
    return listed(list(dict.fromkeys(_WHY.get(q.id, row.words) if q else row.words for row, q in known)))


def worst(verdicts: list[VerdictWord]) -> VerdictWord:
    """Of several recordings of one copy: any fail, else any that cannot be judged, else pass."""
    order: tuple[VerdictWord, ...] = ("fail", "cannot_judge", "pass")
    return next(word for word in order if word in verdicts)


def _by_verdict(copies: dict[str, list[Listening]]) -> tuple[int, dict[VerdictWord, list[str]]]:
    heard = {name: found for name, found in copies.items() if found}
    sorted_out: dict[VerdictWord, list[str]] = {"fail": [], "cannot_judge": [], "pass": []}
    for name, found in heard.items():
        sorted_out[worst([one.verdict for one in found])].append(name)
    return len(heard), sorted_out


def headline(copies: dict[str, list[Listening]]) -> str:
    """Return the sentence over several copies: "4 of 7 copies fail, 2 cannot be judged."

    ``copies`` holds each copy's recordings under its name as it stands in a sentence ("copy 5"); a copy without a
    recording does not count.
    """
    heard, names = _by_verdict(copies)
    if heard == 0:
        return "No copy was played."
    failing, doubtful = names["fail"], names["cannot_judge"]
    if not failing and not doubtful:
        return f"All {heard} copies pass." if heard > 1 else f"{sentence_case(names['pass'][0])} passes."
    parts: list[str] = []
    if len(failing) == 1:
        parts.append(f"{failing[0]} fails on {_reasons(copies[failing[0]]) or 'its limits'}")
    elif failing:
        parts.append(f"{len(failing)} of {heard} copies fail" if len(failing) < heard else f"all {heard} copies fail")
    if len(doubtful) == 1:
        parts.append(f"{doubtful[0]} cannot be judged")
    elif doubtful:
        parts.append(
            f"{len(doubtful)} cannot be judged" if failing else f"{len(doubtful)} of {heard} copies cannot be judged"
        )
    return sentence_case(", ".join(parts)) + "."


def details(copies: dict[str, list[Listening]]) -> str:
    """Return which copies fail and on what, which cannot be judged and why; empty when all pass.

    "Fail: copy 2 (off-centre); copy 5 (ticks). Cannot be judged: copy 4 (off-centre)."
    """
    _, names = _by_verdict(copies)
    parts: list[str] = []
    for opening, found in (("Fail", names["fail"]), ("Cannot be judged", names["cannot_judge"])):
        told = [f"{name} ({reasons})" if (reasons := _reasons(copies[name])) else name for name in found]
        parts += [f"{opening}: {'; '.join(told)}."] if told else []
    return " ".join(parts)


def _reasons(found: list[Listening]) -> str:
    bad = [one for one in found if one.verdict == worst([each.verdict for each in found])]
    return listed(list(dict.fromkeys(word for one in bad if (word := why(one)))))
