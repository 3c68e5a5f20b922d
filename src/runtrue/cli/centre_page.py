"""A centre as a page in the terminal: the sentence first, the move, the reasons, the cautions."""

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.cli.listening_page import _MARKS, _STYLES, _console, _findings, _not_judged, _print_list, _table
from runtrue.contract.centre import StamperCentre
from runtrue.contract.field import FieldResult
from runtrue.contract.picture import PictureCentreResult, SeenCircle, Shift
from runtrue.workflow.centre_words import heard_words, offset_words, picture_told, swing_words, told
from runtrue.workflow.words import VERDICT_WORDS, fixed, number


def print_centre(result: StamperCentre, console: Console | None = None) -> None:
    """Print the page on stdout."""
    page = console or _console()
    _open(page, result, told(result))
    page.print(_measured(result))
    if result.outliers:
        page.print(Padding(_outliers(result), (1, 0, 0, 0)))
    if result.consequence:
        page.print(Padding(_consequence(result), (1, 0, 0, 0)))
        asked = f"--format {result.settings.format} --offset-um {result.offset_um:.0f}"
        page.print(f"Hear it: runtrue listen render REF OUT {asked}")
    _close(page, result)


def _open(page: Console, result: StamperCentre | PictureCentreResult, said: str) -> None:
    """The sentence, the verdict, the findings."""
    page.print(Text(said, style="bold"))
    if result.verdict is not None:
        word = f"{_MARKS[result.verdict]} {VERDICT_WORDS[result.verdict]}"
        page.print(Text(word, style=_STYLES[result.verdict]))
    page.print()
    if result.findings:
        page.print(_findings(result.findings))


def _close(page: Console, result: StamperCentre | PictureCentreResult) -> None:
    """What stands at the foot of both pages."""
    _print_list(page, "Cautions", result.cautions)
    _print_list(page, "Not judged", _not_judged(result.not_judged))
    _print_list(page, "Safety", result.safety)
    file = f"{result.input.file} {result.input.sha256[:12]}"
    page.print(Text(f"± is 95 %. runtrue {result.version}, {result.settings.face}, {file}", style="dim"))


def _measured(result: StamperCentre) -> Padding:
    table = Table(title="Measured", title_justify="left", title_style="bold", box=None, pad_edge=False,
                  show_header=False, padding=(0, 2, 0, 0))  # fmt: skip
    for _ in range(2):
        table.add_column(overflow="fold")
    for words, value in _rows(result):
        table.add_row(words, value)
    return Padding(table, (1, 0, 0, 0))


def _rows(result: StamperCentre) -> list[tuple[str, str]]:
    rows = [("readings", str(result.input.readings))]
    if result.offset_um is None or result.move is None:
        return rows
    known = result.direction_u95_deg != 180.0
    toward = f"{number(result.direction_deg or 0.0, result.direction_u95_deg, '', decimals=0)}°"
    rows += [
        ("offset", f"{offset_words(result)} (swing {swing_words(result)})"),
        ("direction", f"{toward} on this face" if known else "not known: the offset is within its doubt"),
        ("move", f"{result.move.words}; {result.move.screws}"),
        ("axis", result.axis.source + (f", {result.axis.aim}" if result.axis.aim else "")),
        ("scatter of a reading", f"{fixed(result.scatter_um or 0.0, 1)} μm, {result.spare_readings} to spare"),
    ]
    if result.settings.groove == "spiral":
        rows.append(("pitch", str(number(result.pitch_um or 0.0, result.pitch_u95_um, "μm", decimals=0))))
    if result.axis.table_runout_um is not None:
        runout = number(result.axis.table_runout_um, result.axis.table_runout_u95_um, "μm", decimals=0)
        rows.append(("table's own run-out", str(runout)))
    rows += [
        (f"out of round, {part.order} a turn", str(number(part.amplitude_um, part.u95_um, "μm", decimals=0)))
        for part in result.harmonics or ()
    ]
    if result.after_punch is not None:
        check = result.after_punch
        rows.append(("for the punch file", f"[[check]] x_um = {check.x_um:.1f}, y_um = {check.y_um:.1f}"))
    return rows


def _outliers(result: StamperCentre) -> Table:
    table = Table(title="Left out", title_justify="left", title_style="bold", box=None, pad_edge=False,
                  header_style="dim", padding=(0, 2, 0, 0))  # fmt: skip
    for name in ("reading", "angle", "turn", "read", "off the curve"):
        table.add_column(name, justify="right")
    for out in result.outliers or ():
        table.add_row(str(out.row), f"{out.angle_deg:g}°", str(out.turn), f"{fixed(out.reading_um, 1)} μm",
                      f"{fixed(out.off_um, 0)} μm")  # fmt: skip
    return table


def _consequence(result: StamperCentre) -> Table:
    table = Table(title="What it does to the pitch", title_justify="left", title_style="bold", box=None,
                  pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))  # fmt: skip
    for name in ("end", "radius", "peak", "peak to peak", "by published thresholds"):
        table.add_column(name, justify="left" if name in ("end", "by published thresholds") else "right")
    for end in result.consequence or ():
        peak = number(end.swing_peak_percent, end.swing_u95_percent, "%", decimals=3)
        cents = f"{fixed(end.swing_cents, 1)} cents"
        table.add_row(end.end, f"{end.radius_mm:.1f} mm", str(peak), cents, heard_words(end))
    return table


def print_picture(result: PictureCentreResult, console: Console | None = None) -> None:
    """Print the page of a centre from a picture."""
    page = console or _console()
    _open(page, result, picture_told(result))
    if result.scale is not None:
        page.print(Padding(_seen(result), (1, 0, 1, 0)))
        page.print(_doubt(result))
    _close(page, result)


def _seen(result: PictureCentreResult) -> Table:
    table = Table(title="Seen", title_justify="left", title_style="bold", box=None, pad_edge=False,
                  header_style="dim", padding=(0, 2, 0, 0))  # fmt: skip
    for name in ("", "across", "from the hole", "out of round", "seen over", "left out"):
        table.add_column(name, justify="left" if not name else "right")
    rows = (
        ("hole", result.hole, None), ("groove", result.groove, None), ("label", result.label, result.label_shift),
        ("rim", result.rim, result.rim_shift),
    )  # fmt: skip
    for name, ring, shift in rows:
        if ring is not None:
            table.add_row(name, *_ring(ring, result.offset_um if name == "groove" else shift, result))
    return table


def _ring(ring: SeenCircle, apart: Shift | float | None, result: PictureCentreResult) -> tuple[str, ...]:
    if isinstance(apart, Shift):
        off = str(number(apart.offset_um, apart.offset_u95_um, "μm", decimals=0))
    else:
        off = "" if apart is None else offset_words(result)
    return (
        str(number(ring.diameter_mm, ring.diameter_u95_mm, "mm", decimals=3)),
        off,
        "" if ring.roundness_um is None else str(number(ring.roundness_um, ring.roundness_u95_um, "μm", decimals=0)),
        f"{ring.seen_deg:.0f}°",
        f"{ring.left_out} of {ring.places + ring.left_out}",
    )


def _doubt(result: PictureCentreResult) -> str:
    scale = result.scale
    assert scale is not None
    settings = result.settings
    what = "scanner’s travel" if settings.camera_mm is None else "camera"
    parts = [
        f"Doubt of the offset: {fixed(result.method_u95_um or 0.0, 1)} μm from the pixels, "
        f"{settings.field_u95_um:g} μm from the {what} ({settings.field_source}).",
        f"Scale {scale.um_per_px:.3f} μm a pixel, known to {scale.u95_percent:g} % ({scale.source}).",
    ]
    if scale.stretch_percent is not None and scale.skew_percent is not None:
        stretch = number(scale.stretch_percent, scale.stretch_u95_percent, "%", decimals=2)
        skew = number(scale.skew_percent, scale.stretch_u95_percent, "%", decimals=2)
        parts.append(f"Stretch {stretch}, skew {skew}, taken out ({scale.stretch_source}).")
    return "\n".join(parts)


def print_field(result: FieldResult, console: Console | None = None) -> None:
    """Print the page of a scanner's check on stdout."""
    page = console or _console()
    said = f"{result.settings.name}: an offset is right within {fixed(result.u95_um, 0)} μm as far as the scanner goes."
    page.print(Text(said, style="bold"))
    table = _table("Scans of the ring", ("scan", ""), ("offset shown", "right"), ("toward", "right"),
                   ("scale", "right"), ("oval", "right"))  # fmt: skip
    for row in result.scans:
        table.add_row(row.file, f"{fixed(row.offset_um, 1)} μm", f"{row.direction_deg:.0f}°",
                      f"{row.um_per_px:.4f} μm/px", f"{fixed(row.oval_um, 1)} μm")  # fmt: skip
    page.print(Padding(table, (1, 0, 1, 0)))
    page.print(f"scale {result.um_per_px:.4f} μm a pixel, known to {result.scale_u95_percent:g} %")
    stretch = number(result.stretch_percent, result.stretch_u95_percent, "%", decimals=2)
    page.print(f"stretch {stretch}, skew {number(result.skew_percent, result.stretch_u95_percent, '%', decimals=2)}")
    page.print(f"the same every time: {fixed(result.systematic_um, 1)} μm")
    if result.field_file is not None:
        page.print(f"Use it: runtrue stamper picture SCAN --format F --field {result.field_file}")
    _print_list(page, "Cautions", result.cautions)
    _print_list(page, "Not judged", _not_judged(result.not_judged))
    _print_list(page, "Safety", result.safety)
    page.print(Text(f"± is 95 %. runtrue {result.version}", style="dim"))
