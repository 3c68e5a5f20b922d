"""The golden table: a dozen and more printed results whose digits may change only with a ``numbers`` fragment.

``python -m tools.golden`` writes ``tests/golden/results.json`` anew. It asks for a fragment ``changes/NNN.numbers.md``
newer than the one the table was last written under (``--again``: the same fragment is still being worked on), and
puts the table's digest on its last line, so that neither can change alone.
"""

import json
import sys
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import soundfile

ROOT = Path(__file__).parents[1]
TABLE = ROOT / "tests" / "golden" / "results.json"
FRAGMENTS = ROOT / "changes"
_MARK = "golden: "


def worked_out() -> dict[str, str]:
    """Results that need no sound."""
    from runtrue.disc.formats import disc_format
    from runtrue.disc.wow import groove_speed, wow_from_offset
    from runtrue.signal.weighting import a_weighting
    from runtrue.stats.conformity import conformance_probability
    from runtrue.stats.plane import covering_radius, length_half_width, plane_vector
    from runtrue.types import Limit, Measurement

    vector = plane_vector(180e-6, 40e-6, (1e-10, 0.0, 1e-10))
    loose = plane_vector(150e-6, 0.0, (4e-12, 0.0, 4e-12), (45e-6, 140e-6))
    limit = Limit(quantity="off_centre_offset", upper=200e-6, owner="-", source="-", date="-")
    inner = 60.325e-3
    return {
        "wow of 0.2 mm at 60.325 mm [%]": f"{100 * wow_from_offset(offset=0.2e-3, radius=inner):.4f}",
        "groove speed there at 33 1/3 rpm [mm/s]": f"{1e3 * groove_speed(radius=inner, turn_frequency=5 / 9):.2f}",
        "start radius of a 12in-33 [mm]": f"{1e3 * disc_format('12in-33').start_radius:.2f}",
        "A-weighting at 100 Hz [dB]": f"{float(a_weighting(100.0)):.3f}",
        "circle of a round Gaussian of 1 [-]": f"{covering_radius((1.0, 0.0, 1.0)):.4f}",
        "circle with slack of 45 to 140 um [um]": f"{1e6 * loose.u95:.2f}",
        "half-width of the length with slack [um]": f"{1e6 * length_half_width(loose):.2f}",
        "odds of 184 um below 200 um": f"{_odds(conformance_probability, Measurement, vector, limit):.4f}",
        "odds of 150 um, loose, below 200 um": f"{_odds(conformance_probability, Measurement, loose, limit):.4f}",
        **centred(),
    }


def centred() -> dict[str, str]:
    """Centres of made readings and of a made scan, to a place well above the last digit of the arithmetic."""
    import numpy as np

    from runtrue.forward.lens import GrooveShape, lens_readings, spoiled
    from runtrue.forward.scan import Scan, render
    from runtrue.stamper.centre import Centre, locate
    from runtrue.stamper.picture import PictureCentre, measure
    from runtrue.stamper.readings import Groove, Readings
    from runtrue.stamper.seek import Sought

    theta = np.radians(np.arange(0.0, 720.0, 30.0))
    shape = GrooveShape(radius=60e-3, growth=110e-6, out_of_round={2: (12e-6, 0.4)})
    radius = spoiled(lens_readings(theta, shape, (60e-6, -25e-6)), np.random.default_rng(1), outliers={7: 2e-4})
    readings = Readings(angle=theta, radius=radius, second_set=np.zeros(24, dtype=bool))
    centre = locate(readings, groove=Groove.SPIRAL)
    scan = Scan(scale=84.667e-6, size=720, groove=50e-3, label=40e-3, hole_at=(80e-6, 0.0), groove_to=90.0,
                line_width=120e-6, dust=20)  # fmt: skip
    seen = measure(render(scan, np.random.default_rng(1)), Sought(hole=7.26e-3, groove=50e-3), scale=scan.scale)
    assert isinstance(centre, Centre)
    assert isinstance(seen, PictureCentre)
    return {
        "offset of 24 readings over a spiral [um]": f"{1e6 * centre.offset.length:.3f}",
        "its circle [um]": f"{1e6 * centre.offset.u95:.3f}",
        "offset from a quarter of a groove of 50 mm, 300 dpi [um]": f"{1e6 * seen.method.length:.1f}",
        "its circle, by the pixels [um]": f"{1e6 * seen.method.u95:.1f}",
        "its circle, the scanner's scales not checked [um]": f"{1e6 * seen.field.u95:.0f}",
    }


def _odds(probability: Any, measurement: Any, vector: Any, limit: Any) -> float:
    return float(probability(measurement(quantity="off_centre_offset", value=vector, u95=vector.u95), limit))


def heard() -> dict[str, str]:
    """Results of one made recording, as printed, each to a place well above the last digit of the arithmetic."""
    from runtrue.forward import play_from_table, render_to_file
    from runtrue.workflow.actions import Ports
    from runtrue.workflow.listening import check
    from runtrue.workflow.requests import ListenCheckRequest
    from tests.music import RATE, music

    play = play_from_table(
        {
            "disc": {
                "rpm": 100 / 3, "start_radius_mm": 145.7, "pitch_mm": 0.125, "offset_um": 120, "direction_deg": 70,
                "surface": {"level_db": -45, "re": "programme"},
                "ticks": [{"programme_time_s": 9.5, "peak_db": -20}, {"programme_time_s": 31.1, "peak_db": -24}],
            },
            "player": {"speed_percent": 0.12, "arm": {"length_mm": 230, "overhang_mm": 16.5},
                       "jumps": [{"programme_time_s": 22.0, "turns": -1}]},
        }
    )  # fmt: skip
    with TemporaryDirectory() as folder:
        reference, capture = Path(folder, "reference.wav"), Path(folder, "capture.wav")
        soundfile.write(reference, music(45.0), RATE, subtype="FLOAT")
        render_to_file(reference, capture, play, 5)
        request = ListenCheckRequest(
            capture=capture, reference=reference, format="12in-33", start_radius_mm=145.7, end_radius_mm=142.575,
            arm_length_mm=230.0, arm_overhang_mm=16.5, player_swing_percent=0.0,
        )  # fmt: skip
        result = check(request, Ports(clock=lambda: "-"), lambda _what, _share: None).listening
    played, disc = result.off_centre.played, result.off_centre.disc
    assert played is not None
    assert disc is not None
    assert result.speed.deviation_percent is not None
    assert result.noise.surface_db_a is not None
    assert result.ticks is not None
    assert result.jumps is not None
    found = {
        "identity": result.programme.identity,
        "verdict": result.verdict,
        "offset of this placing [um]": f"{played.offset_um:.1f} within {played.u95_um:.1f}",
        "its direction [deg]": f"{played.direction_deg:.1f}",
        "disc, radius of its circle [um]": f"{disc.u95_um:.1f}",
        "speed [%]": f"{result.speed.deviation_percent:.4f}",
        "start [s]": f"{result.programme.start_s:.3f}",
        "jumps": ", ".join(f"{jump.programme_s:.1f} s {jump.turns:+d}" for jump in result.jumps),
        "surface noise (A) [dB]": f"{result.noise.surface_db_a:.1f}",
    }
    loudest = sorted(result.ticks, key=lambda tick: -tick.prominence_db)[:2]
    for tick in sorted(loudest, key=lambda tick: tick.programme_s):
        found[f"tick near {tick.programme_s:.0f} s"] = (
            f"{tick.programme_s:.3f} s, {tick.angle_deg:.1f} deg, {tick.prominence_db:.0f} dB"
        )
    return found


def digest(results: dict[str, Any]) -> str:
    """Digest of the results."""
    return sha256(json.dumps(results, sort_keys=True).encode()).hexdigest()[:16]


def newest_fragment() -> Path | None:
    """The ``numbers`` fragment of the highest number."""
    found = sorted(FRAGMENTS.glob("[0-9][0-9][0-9].numbers.md"))
    return found[-1] if found else None


def stated_digest(fragment: Path) -> str:
    """Digest on the last line of a fragment; empty when there is none."""
    last = fragment.read_text(encoding="utf-8").rstrip().splitlines()[-1]
    return last.removeprefix(_MARK) if last.startswith(_MARK) else ""


def main() -> None:
    """Write the table and put its digest into the newest fragment."""
    results = {"worked out": worked_out(), "heard": heard()}
    old: Any = json.loads(TABLE.read_text(encoding="utf-8")) if TABLE.exists() else {"fragment": "", "results": {}}
    fragment = newest_fragment()
    if results == old["results"]:
        print("no digit has changed")
        return
    if fragment is None or (fragment.name <= old["fragment"] and "--again" not in sys.argv):
        sys.exit("a printed value has changed: write changes/NNN.numbers.md (what it was, what it is, why) first")
    for part, rows in results.items():
        for name, value in rows.items():
            if (was := old["results"].get(part, {}).get(name)) != value:
                print(f"{name}: {was} -> {value}")
    text = fragment.read_text(encoding="utf-8").rstrip()
    if stated_digest(fragment):
        text = text[: text.rindex(_MARK)].rstrip()
    fragment.write_text(f"{text}\n\n{_MARK}{digest(results)}\n", encoding="utf-8")
    TABLE.parent.mkdir(parents=True, exist_ok=True)
    table = {"fragment": fragment.name, "results": results}
    TABLE.write_text(json.dumps(table, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
