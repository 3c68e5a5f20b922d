"""Commands run in this process, in a folder with two small recordings, with an engine that returns what it is told."""

import json
import shutil
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from PIL import Image

from runtrue.cli import run
from runtrue.forward.scan import Scan, render
from runtrue.forward.weighing import MixerRun, family, mixer_log
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.compound_charge import make_charge
from runtrue.workflow.compound_requests import CompoundChargeRequest
from runtrue.workflow.press_calibrate import calibrate_press
from runtrue.workflow.press_requests import PressCalibrateRequest
from tests.booked import WEIGHINGS, quillmere
from tests.fakes import FakeEngine
from tests.metal import metal_tables
from tests.paper_samples import judged, tick_at
from tests.press_files import CYCLE, PILE, press_log_text, trial_text


@dataclass(frozen=True)
class Outcome:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out, parse_constant=lambda word: pytest.fail(f"{word} in the JSON"))

    @property
    def lines(self) -> list[str]:
        return self.err.splitlines()


@pytest.fixture
def engine(monkeypatch: pytest.MonkeyPatch) -> FakeEngine:
    fake = FakeEngine()
    monkeypatch.setattr("runtrue.listen.hear", fake, raising=False)
    monkeypatch.setattr("runtrue.workflow.copies_judged.usable_cores", lambda: 1)  # other processes know no fake
    return fake


def _judged(made: Path) -> None:
    """The result of a recording, another with ticks of many heights, and what a listener says of those."""
    whole = judged()
    digest = sha256((made / "capture.flac").read_bytes()).hexdigest()
    result = replace(whole, input=replace(whole.input, sha256=digest), ticks=[tick_at(9.2, 14.2), *(whole.ticks or [])])
    (made / "result.json").write_text(json.dumps(asdict(result)), encoding="utf-8")
    ticks = [replace(tick_at(float(k)), audible_margin_db=k - 8.0) for k in range(1, 17)]
    (made / "heard.json").write_text(json.dumps(asdict(replace(whole, ticks=ticks))), encoding="utf-8")
    words = ["heard" if k in (7, *range(9, 17)) else "not_heard" for k in range(1, 17)]
    rows = [f"heard.json,{k},{word}" for k, word in enumerate(words, 1)]
    (made / "marks.csv").write_text("\n".join(["result,programme_s,mark", *rows]) + "\n", encoding="utf-8")


@pytest.fixture(scope="session")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """``capture.flac`` of 16 s and ``reference.flac`` of 12 s, near silence; readings, a scan, tables."""
    made = tmp_path_factory.mktemp("recordings")
    rng = np.random.default_rng(1)
    for name, length in (("capture.flac", 16), ("reference.flac", 12)):
        soundfile.write(made / name, 1e-3 * rng.standard_normal((44_100 * length, 2)), 44_100, subtype="PCM_16")
    rows = ["file,copy,closure,stamper", "capture.flac,c1,10,S1", "reference.flac,c2,20,S1"]
    (made / "played.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    _judged(made)
    lines = [f"{a},{1000.0 + 12.0 * np.cos(np.radians(a)) + rng.standard_normal():.1f}" for a in range(0, 360, 30)]
    (made / "readings.csv").write_text("\n".join(["angle_deg,reading_um", *lines]) + "\n", encoding="utf-8")
    _press(made)
    scan = Scan(scale=84.667e-6, size=1300, groove=97.4e-3, label=85e-3, hole_at=(50e-6, 0.0), line_width=120e-6)
    Image.fromarray(render(scan, rng)).save(made / "scan.png")
    for k, turned in enumerate((0.0, 130.0), 1):
        ring = Scan(scale=84.667e-6, size=700, rim=50e-3, label=1e-3, line_grey=0.0, dust=5, turned=turned)
        Image.fromarray(render(ring, rng)).save(made / f"ring{k}.png")
    for name, text in metal_tables().items():
        (made / name).write_text(text, encoding="utf-8")
    _compound(made)
    (made / "weighings-k89.csv").write_text(WEIGHINGS, encoding="utf-8")
    return made


def _press(made: Path) -> None:
    """Press file, log, what the log says of the press, a trial, a pile."""
    files = {"cycle.toml": CYCLE, "press-log.csv": press_log_text(), "trial.csv": trial_text(), "pile.toml": PILE}
    for name, text in files.items():
        (made / name).write_text(text, encoding="utf-8")
    request = PressCalibrateRequest(spec=made / "cycle.toml", log=made / "press-log.csv")
    found = calibrate_press(request, Ports(clock=lambda: "-"), silent)
    (made / "calibration.json").write_text(json.dumps(asdict(found)), encoding="utf-8")


BOUNDS = """[bounds]
name = "Kiln Black, what the chemist allows"
owner = "invented"
date = 2026-11-01
batch_swing_percent = 10
[[class]]
class = "binder"
lower_percent = 14.0
[[class]]
class = "filler"
upper_percent = 66.0
[[ingredient]]
name = "slate, ground"
bag_kg = 25.0
[[ratio]]
of = "shellac, flake"
to = "shellac, bleached"
lower = 1.5
[density]
lower_g_cm3 = 1.9
[water]
upper_percent = 1.0
[[regrind]]
name = "regrind, Kiln Black"
colour = "black"
rejects_percent = 60
label_mm = 90
paper_g_m2 = 100
disc_g = 180
labels_cut_out_percent = 95
dirt_ppm = 200
sieved_percent = 50
upper_mean_passes = 0.15
upper_foreign_ppm = 40
"""


LOT = """[lot]
id = "SH-0420"
material = "shellac, flake"
supplier = "invented"
made = 2026-06-01
received = 2026-11-02
shelf_life_days = 365
hazards = ["combustible_dust"]
[[measured]]
quantity = "moisture_percent"
value = 1.5
u95 = 0.1
[[measured]]
quantity = "flow_length_mm"
value = 61
u95 = 2
[[certificate]]
quantity = "moisture_percent"
value = 1.4
u95 = 0.1
[[certificate]]
quantity = "sieve_residue_percent"
value = 0.02
u95 = 0.005
"""

LOT_LIMITS = """[file]
name = "Shellac in"
owner = "invented"
date = 2026-11-01
[[limit]]
quantity = "moisture_percent"
upper = 2.0
source = "vendor table in the form of IS 16"
[[limit]]
quantity = "flow_length_mm"
lower = 50
upper = 75
source = "house"
[[limit]]
quantity = "sieve_residue_percent"
upper = 0.05
source = "house"
"""

BISCUIT_LIMITS = """[file]
name = "Biscuits"
owner = "invented"
date = 2026-11-01
[[limit]]
quantity = "biscuit_mass_g"
lower = 200
upper = 216
source = "house"
"""

MASSES = """post,what,kg,u95_kg,count,count_u95,each_g,each_u95_g
compound_in,pellets,100,0.2,,,,
regrind_in,,10,0.05,,,,
discs,,,,600,1,140.2,0.3
flash,,18.4,0.1,,,,
purge,,2.1,0.1,,,,
rejects,,5.2,0.1,,,,
"""

LINKS = """kind,lot,ingredient,batch,press,first,last,slack,from_time,to_time
drawn,SH-0411,"shellac, flake",B-401,,,,,,
drawn,SH-0411,"shellac, flake",B-402,,,,,,
drawn,SL-77,"slate, ground",B-402,,,,,,
made,,,B-401,,1,500,10,,
made,,,B-402,,501,1000,10,,
pressed,,,,P1,1,400,5,2026-11-25T06:00:00Z,2026-11-25T10:00:00Z
pressed,,,,P2,401,1000,5,2026-11-25T06:00:00Z,2026-11-25T12:00:00Z
"""

DUMP = """[file]
name = "Dump rule, 75 l mixer"
owner = "invented"
date = 2026-11-01
[[limit]]
quantity = "dump_temperature_degc"
lower = 105
upper = 125
source = "house"
[[limit]]
quantity = "specific_energy_kwh_per_kg"
lower = 0.04
upper = 0.05
source = "house"
[[limit]]
quantity = "dump_time_s"
lower = 180
upper = 260
source = "house"
"""


COMPOUND = {
    "dump.toml": DUMP, "lot.toml": LOT, "lot-limits.toml": LOT_LIMITS, "biscuit-limits.toml": BISCUIT_LIMITS,
    "masses.csv": MASSES, "links.csv": LINKS,
}  # fmt: skip


def biscuits_text(sigma: float = 1.0, step: float = 0.0) -> str:
    """Sixty biscuits about 208 g; from the 41st on heavier by ``step`` [g]."""
    rng = np.random.default_rng(1)
    rows = [f"{208 + sigma * rng.standard_normal() + (step if k >= 40 else 0.0):.2f}" for k in range(60)]
    return "\n".join(["biscuit_mass_g", *rows]) + "\n"


def log_text(number: int, *, second: float = 90.0) -> str:
    """A mixer's log of 104 kg, the second peak at ``second`` [s]."""
    rng = np.random.default_rng([number, 7])
    humps = ((25.0, 8.0, 7e4 + 2e3 * rng.standard_normal()), (second + 2.0 * rng.standard_normal(), 20.0, 4.5e4))
    made = mixer_log(
        MixerRun(mass=104.0, capacity=1030.0, idle=12e3, plateau=6e4 + 1e3 * rng.standard_normal(), humps=humps,
        lost=0.45,
                 start=297.0, dump=215.0 + 3.0 * rng.standard_normal(), power_noise=800.0, temperature_noise=0.2),
        number,
    )  # fmt: skip
    rows = [
        f"{t:.0f},{p / 1e3:.2f},{k - 273.15:.2f},5.0"
        for t, p, k in zip(made.time, made.power, made.temperature, strict=True)
    ]
    return "\n".join(["time_s,power_kw,temperature_degc,ram_bar", *rows]) + "\n"


def _compound(made: Path) -> None:
    """A charge of a shipped formula with its weighings, right to the gram."""
    request = CompoundChargeRequest(formula=Path("invented-78-kiln-black"), batch_kg=100.0)
    sheet = make_charge(request, Ports(clock=lambda: "2026-11-25"), silent)
    (made / "charge.json").write_text(json.dumps(asdict(sheet)), encoding="utf-8")
    lines = [
        f'2026-11-25T06:{n:02d}:00Z,"{line.ingredient}",{line.draws[0].lot},{line.mass_kg:.4f},S1,jt'
        for n, line in enumerate(sheet.lines)
    ]
    (made / "bounds.toml").write_text(BOUNDS, encoding="utf-8")
    for name, text in {**COMPOUND, "biscuits.csv": biscuits_text()}.items():
        (made / name).write_text(text, encoding="utf-8")
    for number in range(17):
        name = "mixer.csv" if number == 16 else f"b{number}.csv"
        (made / name).write_text(log_text(number), encoding="utf-8")
    numbers = family([142.0, 118.0, 6.2], [4.0, 1.6, 0.07], 31, seed=3)
    rows = [f"B-{401 + k},{a:.1f},{b:.1f},{c:.3f}" for k, (a, b, c) in enumerate(numbers)]
    head = "batch,peak_power_kw,dump_temperature_degc,sheet_thickness_mm"
    (made / "family.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    rows = [f"B{k},b{k}.csv,104" for k in range(16)]
    (made / "logs.csv").write_text("\n".join(["batch,log,mass_kg", *rows]) + "\n", encoding="utf-8")
    head = "time,ingredient,lot,mass_kg,scale,operator"
    (made / "weighings.csv").write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path, recordings: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of its own to stand in, with the two recordings; no book lies there."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RUNTRUE_BOOK", str(tmp_path / "book.sqlite"))
    shutil.copytree(recordings, tmp_path, dirs_exist_ok=True)
    return tmp_path


@pytest.fixture(scope="session")
def quillmeres(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant's book that is copied, never opened."""
    made = tmp_path_factory.mktemp("book") / "book.sqlite"
    quillmere(str(made)).close()
    return made


@pytest.fixture
def book(folder: Path, quillmeres: Path) -> Path:
    """The book that commands find in the folder, and a backup of it."""
    shutil.copy(quillmeres, folder / "backup.sqlite")
    return Path(shutil.copy(quillmeres, folder / "book.sqlite"))


@pytest.fixture
def runtrue(capsys: pytest.CaptureFixture[str]) -> Callable[..., Outcome]:
    """Run a command line in this process."""

    def call(*arguments: str) -> Outcome:
        code = run(list(arguments))
        captured = capsys.readouterr()
        return Outcome(code, captured.out, captured.err)

    return call
