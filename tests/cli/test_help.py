"""Every command has help and an example that works; help comes at once."""

import os
import shlex
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import runtrue as package
from runtrue.records import asking, open_book, tables
from runtrue.workflow.actions import Action, actions, asks
from tests.cli.conftest import Outcome

Run = Callable[..., Outcome]
ACTIONS = actions()


def test_version(runtrue: Run) -> None:
    assert runtrue("--version").out == f"runtrue {package.__version__}\n"


def test_the_program_says_what_it_is_for(runtrue: Run) -> None:
    outcome = runtrue("--help")
    assert outcome.code == 0
    for action in ACTIONS:
        assert action.station in outcome.out


@pytest.mark.parametrize("action", ACTIONS, ids=lambda a: a.name)
def test_a_command_has_help_with_an_example(runtrue: Run, action: Action) -> None:
    outcome = runtrue(*action.name.split(), "--help")
    assert outcome.code == 0
    assert action.summary in outcome.out
    assert action.example in outcome.out
    for item, how in asks(action.request):
        assert how.help
        if not how.positional:
            assert f"--{item.name.replace('_', '-')}" in outcome.out


def of_the_book(action: Action) -> bool:
    return action.station == "book" or action.name == "work"


@pytest.mark.parametrize(
    "action", [a for a in ACTIONS if a.name not in ("demo", "serve") and not of_the_book(a)], ids=lambda a: a.name
)
@pytest.mark.usefixtures("folder", "engine")
def test_the_example_works(runtrue: Run, action: Action) -> None:
    program, *arguments = shlex.split(action.example)
    assert program == "runtrue"
    assert runtrue(*arguments).code == 0


@pytest.mark.parametrize("action", [a for a in ACTIONS if a.name not in ("demo", "serve")], ids=lambda a: a.name)
@pytest.mark.usefixtures("book", "engine")
def test_the_example_works_beside_a_book(runtrue: Run, action: Action, book: Path) -> None:
    """What a station finds out stands in the book, with the files it was found from."""
    before = analyses(book)
    read = {word for word in shlex.split(action.example) if (book.parent / word).is_file()}
    test_the_example_works(runtrue, action)
    new = [one for one in analyses(book) if one not in before]
    if action.station in ("book", "") or action.name in ("listen render", "listen ring", "listen cues"):
        assert new == []
        return
    assert [name for name, _ in new] == [action.name]
    assert read <= set(new[0][1])


def analyses(book: Path) -> list[tuple[str, tuple[str, ...]]]:
    """Analyses of a book: their actions and the files they are made of."""
    opened = open_book(str(book))
    with opened.read() as connection:
        rows = [
            (row.action, tuple(one.name for one in asking.rows_of(connection, tables.AnalysedInput, [row.entry])))
            for row in asking.rows_where(connection, tables.Analysed)
        ]
    opened.close()
    return rows


@pytest.mark.parametrize("action", ACTIONS, ids=lambda a: a.name)
def test_an_action_is_whole(action: Action) -> None:
    assert isinstance(action.result_class(), type)
    assert action.example.startswith(f"runtrue {action.name} ")
    assert callable(action.exit_code)


def test_nothing_heavy_is_imported_for_help() -> None:
    code = (
        "import sys; from runtrue.cli import run; run(['--help']); "
        "print(sorted(set(sys.modules) & {'numpy', 'scipy', 'pydantic', 'soundfile', 'rich', 'reportlab', 'fastapi'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.slow
def test_help_comes_at_once() -> None:
    """Within 150 ms of bare Python; time of the processor, which neighbours do not take, with room for a slow one."""

    def best(*arguments: str) -> float:
        times = []
        for _ in range(3):
            before = os.times()
            subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
            after = os.times()
            times.append(after.children_user + after.children_system - before.children_user - before.children_system)
        return min(times)

    assert best("-m", "runtrue", "--help") - best("-c", "pass") < 0.6


@pytest.mark.slow
def test_as_a_module_and_as_a_program() -> None:
    for command in ([sys.executable, "-m", "runtrue"], [str(Path(sys.executable).parent / "runtrue")]):
        done = subprocess.run([*command, "listen", "check", "nowhere", "--format", "12in-33"],
                              capture_output=True, text=True, check=False)  # fmt: skip
        assert (done.returncode, done.stdout) == (2, "")
        assert len(done.stderr.splitlines()) == 1


@pytest.mark.slow
@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("more", [[], ["--json"]])
def test_a_reader_that_goes_away_still_leaves_the_verdict(more: list[str]) -> None:
    code = (
        "import runtrue.listen, sys; from tests.fakes import FakeEngine, heard; "
        "runtrue.listen.hear = FakeEngine(result=heard(jumps=None)); from runtrue.cli import main; "
        f"main('listen check capture.flac --reference reference.flac --format 12in-33'.split() + {more})"
    )
    root = Path(__file__).parents[2]
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(root)},
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait() == 4
