"""Commands run in this process, in a folder with two small recordings, with an engine that returns what it is told."""

import json
import shutil
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from PIL import Image

from runtrue.cli import run
from runtrue.forward.scan import Scan, render
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.compound_charge import make_charge
from runtrue.workflow.compound_requests import CompoundChargeRequest
from tests.booked import quillmere
from tests.fakes import FakeEngine
from tests.metal import metal_tables
from tests.press_files import CYCLE


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
    return fake


@pytest.fixture(scope="session")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """``capture.flac`` of 16 s and ``reference.flac`` of 12 s, near silence; readings, a scan, and a plant's book."""
    made = tmp_path_factory.mktemp("recordings")
    rng = np.random.default_rng(1)
    for name, length in (("capture.flac", 16), ("reference.flac", 12)):
        soundfile.write(made / name, 1e-3 * rng.standard_normal((44_100 * length, 2)), 44_100, subtype="PCM_16")
    lines = [f"{a},{1000.0 + 12.0 * np.cos(np.radians(a)) + rng.standard_normal():.1f}" for a in range(0, 360, 30)]
    (made / "readings.csv").write_text("\n".join(["angle_deg,reading_um", *lines]) + "\n", encoding="utf-8")
    (made / "cycle.toml").write_text(CYCLE, encoding="utf-8")
    scan = Scan(scale=84.667e-6, size=1300, groove=97.4e-3, label=85e-3, hole_at=(50e-6, 0.0), line_width=120e-6)
    Image.fromarray(render(scan, rng)).save(made / "scan.png")
    for name, text in metal_tables().items():
        (made / name).write_text(text, encoding="utf-8")
    _compound(made)
    quillmere(str(made / "book.sqlite")).close()
    return made


def _compound(made: Path) -> None:
    """A charge of a shipped formula with its weighings, right to the gram."""
    request = CompoundChargeRequest(formula=Path("invented-78-kiln-black"), batch_kg=100.0)
    sheet = make_charge(request, Ports(clock=lambda: "2026-11-25"), silent)
    (made / "charge.json").write_text(json.dumps(asdict(sheet)), encoding="utf-8")
    lines = [
        f'2026-11-25T06:{n:02d}:00Z,"{line.ingredient}",{line.draws[0].lot},{line.mass_kg:.4f},S1,jt'
        for n, line in enumerate(sheet.lines)
    ]
    head = "time,ingredient,lot,mass_kg,scale,operator"
    (made / "weighings.csv").write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path, recordings: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of its own to stand in, with the two recordings."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RUNTRUE_BOOK", str(tmp_path / "book.sqlite"))
    shutil.copytree(recordings, tmp_path, dirs_exist_ok=True)
    return tmp_path


@pytest.fixture
def runtrue(capsys: pytest.CaptureFixture[str]) -> Callable[..., Outcome]:
    """Run a command line in this process."""

    def call(*arguments: str) -> Outcome:
        code = run(list(arguments))
        captured = capsys.readouterr()
        return Outcome(code, captured.out, captured.err)

    return call
