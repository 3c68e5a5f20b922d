"""The arrows between the rooms: who may import whom. Parses every import, also those inside functions."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src" / "runtrue"

VOCABULARY = frozenset({"errors", "units", "quantities", "types"})
WORKED_OUT = frozenset({"disc", "stats", "signal"})
STATIONS = frozenset({"listen", "stamper", "compound", "press", "lot", "ship"})

ALLOWED: dict[str, frozenset[str]] = {
    "errors": frozenset(),
    "units": frozenset(),
    "quantities": frozenset({"errors", "units"}),
    "types": frozenset({"errors", "units", "quantities"}),
    "limits": frozenset(),
    "formulas": frozenset(),
    "disc": VOCABULARY,
    "stats": VOCABULARY,
    "signal": VOCABULARY,
    "capture": VOCABULARY,
    "contract": VOCABULARY,
    **{station: VOCABULARY | WORKED_OUT | {"capture.sound"} for station in STATIONS},
    # the maker goes its own way, so that one mistake cannot stand on both sides
    "forward": VOCABULARY | {"disc.formats"},
    # keeps plain values; what they mean is said in workflow
    "records": VOCABULARY,
    # pictures are drawn from printed results; the dimensions of a record are data
    "paper": VOCABULARY | {"contract", "disc.formats"},
    "workflow": VOCABULARY
    | WORKED_OUT
    | STATIONS
    | {"capture", "contract", "forward", "formulas", "limits", "paper", "records"},
    "cli": VOCABULARY | {"workflow", "contract", "demo"},
    "web": VOCABULARY | {"workflow", "contract"},
    "demo": VOCABULARY | {"workflow", "forward", "contract", "disc.formats", "web"},
    "__main__": frozenset({"cli"}),
    "__init__": frozenset(),
}
"""Room -> rooms or modules (``capture.sound``) it may import, besides itself and the version at the top."""


def imports(tree: ast.AST, module: str) -> Iterator[tuple[int, str]]:
    """Line and full name of everything of ours that is imported."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                base = ".".join([*module.split(".")[: -node.level], *([base] if base else [])])
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def allowed(room: str, name: str) -> bool:
    """Whether ``room`` may import ``name`` (runtrue.disc.formats.Format)."""
    parts = name.split(".")
    if parts[0] != "runtrue" or parts == ["runtrue"] or parts[1:2] == ["__version__"]:
        return True
    inner = parts[1:]
    if inner[0] == room:
        return True
    return any(inner[: len(rule.split("."))] == rule.split(".") for rule in ALLOWED[room])


def wrong_arrows(text: str, *, room: str, module: str) -> list[str]:
    return [
        f"{module}:{line} imports {name}"
        for line, name in imports(ast.parse(text), module)
        if not allowed(room, name)
    ]  # fmt: skip


def modules() -> list[Path]:
    return sorted(SOURCE.rglob("*.py"))


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(SOURCE)))
def test_no_wrong_arrow(path: Path) -> None:
    inside = path.relative_to(SOURCE)
    room = inside.parts[0].removesuffix(".py")
    assert room in ALLOWED, f"{room}/ is a new room: say in ALLOWED whom it may import"
    module = ".".join(("runtrue", *inside.with_suffix("").parts))
    assert wrong_arrows(path.read_text(encoding="utf-8"), room=room, module=module) == []


@pytest.mark.parametrize(
    ("room", "text"),
    [
        ("forward", "from runtrue.disc.wow import wow_from_offset"),
        ("forward", "from runtrue.signal import stft"),
        ("listen", "from runtrue.capture import open_sound"),
        ("listen", "from runtrue.capture.files import open_sound"),
        ("listen", "def f():\n    import runtrue.press"),
        ("disc", "from runtrue.contract.listening import Tick"),
        ("signal", "from runtrue import stats"),
        ("contract", "from ..disc import frame"),
        ("cli", "from runtrue.paper.words import sentence"),
        ("cli", "from runtrue.records import open_book"),
        ("web", "from runtrue.records.tables import Entry"),
        ("records", "from runtrue.workflow.actions import Ports"),
        ("types", "from runtrue.disc.formats import Hole"),
        ("errors", "import runtrue.units"),
    ],
)
def test_a_wrong_arrow_is_seen(room: str, text: str) -> None:
    assert wrong_arrows(text, room=room, module=f"runtrue.{room}.somewhere")


def test_a_right_arrow_passes() -> None:
    text = (
        "import numpy\nfrom runtrue.capture.sound import Sound\nfrom runtrue.listen.heard import Heard\nimport runtrue"
    )
    assert wrong_arrows(text, room="listen", module="runtrue.listen.somewhere") == []


_OUTSIDE = frozenset({"time", "datetime", "sqlite3", "sqlalchemy", "soundfile", "click", "rich", "random"})


@pytest.mark.parametrize(
    "path",
    [p for p in modules() if p.relative_to(SOURCE).parts[0] in STATIONS | WORKED_OUT],
    ids=lambda p: str(p.relative_to(SOURCE)),
)
def test_what_measures_reads_no_clock_opens_no_recording_and_prints_nothing(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    module = ".".join(("runtrue", *path.relative_to(SOURCE).with_suffix("").parts))
    assert [name for _, name in imports(tree, module) if name.split(".")[0] in _OUTSIDE] == []
    calls = [node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]
    assert not {"print", "open", "input"} & set(calls)
