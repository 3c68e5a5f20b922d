"""A centre in words: what was found, what to do, how sure."""

from runtrue.contract.centre import Consequence, StamperCentre
from runtrue.contract.picture import PictureCentreResult
from runtrue.paper.words import count, fixed, listed, number, odds


def told(result: StamperCentre) -> str:
    """What was found and what to do, in two sentences.

    The words follow the verdict; without a limit they say where the centre is and how to move.
    """
    return " ".join(part for part in (found(result), todo(result)) if part)


def found(result: StamperCentre | PictureCentreResult) -> str:
    """What was found."""
    if result.offset_um is None:
        why = next((one.reason for one in result.not_judged if one.key == "offset_um"), "nothing was read")
        return f"Cannot judge: {why}."
    offset = f"offset {offset_words(result)}, swing {swing_words(result)}"
    if not result.findings:
        return f"Off centre: {offset}."
    row = result.findings[0]
    bound = f"at most {fixed(row.upper or 0.0, 0)} μm {row.meaning}"
    sure = odds(row.conformance_probability or 0.0)
    if result.verdict == "pass":
        return f"Inside the limit: {offset}; {bound}, odds {sure}."
    if result.verdict == "fail":
        return f"Out of the limit: {offset}; {bound}."
    return f"Cannot judge: {offset}; odds inside the limit ({bound}) {sure}, 95 are asked for."


def todo(result: StamperCentre) -> str:
    """What to do next."""
    if result.offset_um is None or result.move is None:
        return ""
    before = result.settings.face == "stamper" and result.settings.held == "placed"
    moved = f"Move it {result.move.words}, read again." if result.direction_u95_deg != 180.0 else ""
    if result.verdict == "pass":
        return "Punch it." if before else "Keep it."
    if result.verdict == "fail":
        return moved if before else "Hold it: a punched hole cannot be moved."
    if result.verdict == "cannot_judge":
        if result.more_readings is not None:
            more = f"Read {count(result.more_readings, 'more angle', 'more angles')}"
            return f"{more}, or move it {result.move.words} and read again." if before and moved else f"{more}."
        return moved if before else "Read it on a table whose axis is known better."
    return moved if before else ""


def offset_words(result: StamperCentre | PictureCentreResult) -> str:
    """Offset with its U95."""
    return str(number(result.offset_um or 0.0, result.offset_u95_um, "μm", decimals=0))


def swing_words(result: StamperCentre | PictureCentreResult) -> str:
    """Swing with its U95."""
    u95 = None if result.offset_u95_um is None else 2.0 * result.offset_u95_um
    return str(number(result.swing_um or 0.0, u95, "μm", decimals=0))


def heard_words(end: Consequence) -> str:
    """Which published thresholds the pitch swing reaches.

    Every threshold is named, so that nobody takes the mildest for the only one.
    """
    heard = [t.name for t in end.heard if t.heard]
    not_heard = [t.name for t in end.heard if not t.heard]
    parts = []
    if heard:
        parts.append(f"heard {listed(heard)}")
    if not_heard:
        parts.append(f"not heard {listed(not_heard)}")
    return ", ".join(parts)


def picture_told(result: PictureCentreResult) -> str:
    """What was found on a picture and what to do."""
    todo = {
        "pass": "Keep it.",
        "fail": "Hold it: a punched hole cannot be moved.",
        "cannot_judge": "Check the scanner with a measured ring, or read it under the lens.",
    }
    act = "" if result.verdict is None or result.offset_um is None else todo[result.verdict]
    return f"{found(result)} {act}".strip()
