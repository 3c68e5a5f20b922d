"""How well the stamper station finds a centre: bias, coverage, outliers, risks; ``python -m bench.stamper``.

The full counts of the goals stand here; the tests run the same functions with fewer sets.
"""

from dataclasses import dataclass, replace
from math import hypot, pi
from time import perf_counter

import numpy as np

from runtrue.forward.lens import GrooveShape, lens_readings, spoiled
from runtrue.forward.scan import Scan, render
from runtrue.stamper.centre import Centre, locate
from runtrue.stamper.field import Field, field_of, ring_scan
from runtrue.stamper.model import design, fit
from runtrue.stamper.picture import PictureCentre, measure
from runtrue.stamper.readings import Groove, Readings
from runtrue.stamper.seek import Refused, Sought, ring_edges
from runtrue.stats import conformity
from runtrue.stats.plane import covering_radius
from runtrue.types import Limit, Measurement, Verdict

NOISE = 5e-6
MOST_OFFSET = 300e-6
SLIP = 200e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A way of reading: angles over whole turns, kind of groove, what is wrong with it."""

    name: str
    count: int
    turns: int
    groove: Groove
    out_of_round: float
    outlier: bool


SCENES = tuple(
    Scene(name=f"{name}{', one outlier' if outlier else ''}", count=count, turns=turns, groove=groove,
          out_of_round=out_of_round, outlier=outlier)
    for name, count, turns, groove, out_of_round in (
        ("12 on a circle", 12, 1, Groove.LOCKED, 0.0),
        ("24 over two turns of a spiral, harmonics 2 and 3", 24, 2, Groove.SPIRAL, 30e-6),
    )
    for outlier in (False, True)
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Bias of x and y [m], share of U95 circles that hold the truth, share of sets with exactly the slip named."""

    sets: int
    bias: tuple[float, float]
    covered: float
    named: float
    seconds: float


def simulated(scene: Scene, rng: np.random.Generator) -> tuple[Readings, tuple[float, float], int | None]:
    """One set of readings, the groove's true centre, and the place of the slip."""
    theta = np.arange(scene.count) * 2.0 * pi * scene.turns / scene.count
    offset, toward = rng.uniform(0.0, MOST_OFFSET), rng.uniform(0.0, 2.0 * pi)
    centre = (offset * np.cos(toward), offset * np.sin(toward))
    spiral = scene.groove is Groove.SPIRAL
    shape = GrooveShape(
        radius=rng.uniform(50e-3, 60e-3),
        growth=rng.uniform(0.0, 200e-6) if spiral else 0.0,
        out_of_round={
            k: (rng.uniform(0.0, scene.out_of_round), rng.uniform(0.0, 2.0 * pi)) for k in (2, 3) if scene.out_of_round
        },
    )
    slip = int(rng.integers(scene.count)) if scene.outlier else None
    slips = {} if slip is None else {slip: SLIP * float(rng.choice([-1.0, 1.0]))}
    radius = spoiled(lens_readings(theta, shape, centre), rng, noise=NOISE, outliers=slips)
    second = np.zeros(scene.count, dtype=bool)
    return Readings(angle=theta, radius=radius, second_set=second), (float(centre[0]), float(centre[1])), slip


def run(scene: Scene, sets: int, seed: int = 7) -> Found:
    """Fit many sets with the station's own model; the covering circle is scaled from one per pattern left out."""
    rng = np.random.default_rng(seed)
    made = None
    circles: dict[tuple[int, ...], float] = {}
    errors, covered, named = np.zeros((sets, 2)), 0, 0
    before = perf_counter()
    for number in range(sets):
        readings, centre, slip = simulated(scene, rng)
        if made is None:
            made = design(readings.angle, harmonics=3, pitch=scene.groove is Groove.SPIRAL)
        fitted = fit(made, readings.radius)
        if fitted.left_out not in circles:
            s2 = fitted.deviation**2
            xx, xy, yy = (v / s2 for v in fitted.block("x", "y"))
            circles[fitted.left_out] = covering_radius((xx, xy, yy), dof=fitted.dof)
        errors[number] = fitted.value("x") - centre[0], fitted.value("y") - centre[1]
        covered += hypot(*errors[number]) <= circles[fitted.left_out] * fitted.deviation
        named += fitted.left_out == (() if slip is None else (slip,))
    bias = errors.mean(axis=0)
    return Found(
        sets=sets, bias=(float(bias[0]), float(bias[1])), covered=covered / sets, named=named / sets,
        seconds=perf_counter() - before,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """Of the stampers passed the share outside the limit, of those failed the share inside; share decided."""

    wrongly_passed: float
    wrongly_failed: float
    decided: float


def risks(sets: int, limit: float = 65e-6, seed: int = 11) -> Risks:
    """Judge many stampers, true offsets spread evenly over the plane out to twice the limit (the judge's own prior)."""
    rng = np.random.default_rng(seed)
    bound = Limit(quantity="off_centre_offset", upper=limit, owner="-", source="-", date="-")
    theta = np.arange(12, dtype=np.float64) * (pi / 6.0)
    second = np.zeros(12, dtype=bool)
    tally = {True: [0, 0], False: [0, 0]}
    for _ in range(sets):
        offset, toward = 2.0 * limit * np.sqrt(rng.uniform()), rng.uniform(0.0, 2.0 * pi)
        centre = (offset * np.cos(toward), offset * np.sin(toward))
        radius = spoiled(lens_readings(theta, GrooveShape(radius=53e-3), centre), rng, noise=NOISE)
        found = locate(Readings(angle=theta, radius=radius, second_set=second), groove=Groove.LOCKED)
        assert isinstance(found, Centre)
        vector = found.offset
        word = conformity.judge([Measurement(quantity=bound.quantity, value=vector, u95=vector.u95)], [bound])[
            0
        ].verdict
        if word is Verdict.CANNOT_JUDGE:
            continue
        passed = word is Verdict.PASS
        tally[passed][0] += 1
        tally[passed][1] += bool(offset <= limit) is not passed
    return Risks(
        wrongly_passed=tally[True][1] / max(tally[True][0], 1),
        wrongly_failed=tally[False][1] / max(tally[False][0], 1),
        decided=(tally[True][0] + tally[False][0]) / sets,
    )


def arcs(count: int, seed: int = 2) -> float:
    """Share of pictures with only a quarter of the groove in which the pixels' U95 circle holds the true offset."""
    rng = np.random.default_rng(seed)
    held = 0
    for _ in range(count):
        hole, groove = rng.uniform(-1e-4, 1e-4, 2), rng.uniform(-1e-4, 1e-4, 2)
        start = float(rng.uniform(0.0, 360.0))
        scan = Scan(
            scale=25.4e-3 / 1200, size=1100, groove=21e-3, label=15e-3, dust=30, groove_from=start,
            groove_to=start + 90.0, hole_at=(float(hole[0]), float(hole[1])),
            groove_at=(float(groove[0]), float(groove[1])),
        )  # fmt: skip
        found = measure(render(scan, rng), Sought(hole=7.26e-3, groove=21e-3), scale=scan.scale)
        if isinstance(found, PictureCentre):
            away = np.array([found.method.x, found.method.y]) - (hole - groove)
            held += bool(np.hypot(*away) <= found.method.u95)
    return held / count


def travels(scanners: int, records: int = 2, scans: int = 4, seed: int = 5) -> float:
    """Share of records whose offset the circle from a measured ring holds, over scanners of uneven travel.

    Every scanner has a slow wave and a ripple of its own; ring and records lie up to 3 mm apart.
    """
    rng = np.random.default_rng(seed)
    held = []
    plain = Scan(scale=25.4e-3 / 1200, size=1300, label=15e-3, dust=20)
    for _ in range(scanners):
        waves = ((rng.uniform(5e-6, 30e-6), rng.uniform(20e-3, 60e-3), rng.uniform(0.0, 2.0 * pi)),
                 (rng.uniform(1e-6, 8e-6), rng.uniform(2e-3, 8e-3), rng.uniform(0.0, 2.0 * pi)))  # fmt: skip
        scanner = replace(plain, travel=waves, stretch=float(rng.uniform(-0.003, 0.003)))
        rings = []
        for _ in range(scans):
            x, y = (float(v) for v in rng.uniform(-1.5e-3, 1.5e-3, 2))
            ring = replace(scanner, rim=24e-3, rim_at=(x, y), hole_at=(x, y), label=1e-3, line_grey=0.0,
                           turned=float(rng.uniform(0.0, 360.0)))  # fmt: skip
            edges = ring_edges(render(ring, rng), Sought(hole=7.26e-3, groove=21e-3, rim=24e-3), ring.scale)
            assert not isinstance(edges, Refused), edges.reason
            rings.append(ring_scan(*edges, ring.scale))
        check = field_of(rings, rim_diameter=24e-3, ring_u95=2e-6)
        known = Field(u95=check.u95, scale_u95=check.scale_u95, distortion=check.distortion, checked=True)
        for _ in range(records):
            hole, off = rng.uniform(-1.5e-3, 1.5e-3, 2), rng.uniform(-1e-4, 1e-4, 2)
            scan = replace(scanner, groove=21e-3, hole_at=(float(hole[0]), float(hole[1])),
                           groove_at=(float(hole[0] - off[0]), float(hole[1] - off[1])))  # fmt: skip
            found = measure(render(scan, rng), Sought(hole=7.26e-3, groove=21e-3), scale=check.scale, field=known)
            assert isinstance(found, PictureCentre), found.reason
            held.append(hypot(found.field.x - off[0], found.field.y - off[1]) <= found.field.u95)
    return float(np.mean(held))


def main(sets: int = 10_000) -> None:
    """Print what the goals ask for."""
    for scene in SCENES:
        found = run(scene, sets)
        bias = " and ".join(f"{1e6 * b:+.3f}" for b in found.bias)
        print(
            f"{scene.name}: bias {bias} um, U95 circle covers {100 * found.covered:.1f} of 100, named "
            f"{100 * found.named:.1f} of 100 ({found.sets} sets, {found.seconds:.0f} s)"
        )
    print(
        f"groove over 90 deg only: U95 circle holds the offset in {100 * arcs(max(sets // 50, 20)):.0f} of 100 pictures"
    )
    print(f"measured ring: its circle holds the offset of {100 * travels(max(sets // 200, 2)):.0f} of 100 records")
    said = risks(max(sets // 5, 200))
    print(
        f"limit 65 um: wrongly passed {100 * said.wrongly_passed:.1f} of 100 passed, wrongly failed "
        f"{100 * said.wrongly_failed:.1f} of 100 failed, decided {100 * said.decided:.0f} of 100"
    )


if __name__ == "__main__":
    main()
