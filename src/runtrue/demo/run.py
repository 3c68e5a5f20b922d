"""`runtrue demo`: presses and plays the story in worker processes, has every recording judged, writes the dossier.

Everything unfinished lies in one temporary folder that goes whatever happens, so that Ctrl-C leaves nothing behind.
"""

import os
import shutil
from pathlib import Path
from tempfile import TemporaryDirectory

from runtrue.contract.demo import Demonstration
from runtrue.errors import InputError, MissingFileError, SurroundingsError
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.crew import crew
from runtrue.workflow.demo_request import DemoRequest
from runtrue.workflow.serve_request import ServeRequest


def run(request: DemoRequest, ports: Ports, progress: Progress) -> Demonstration:
    """Run the demonstration and write its folder. Raises ``InputError`` before anything long begins."""
    check_request(request)
    if request.scenario is not None and not request.scenario.is_file():
        raise MissingFileError(f"scenario {request.scenario}: there is no such file: check the spelling and the folder")
    new = _take_place(request.out)
    try:
        with TemporaryDirectory(prefix="runtrue-demo-", ignore_cleanup_errors=True) as place:
            folder = Path(place).resolve() / "made"
            folder.mkdir()
            with crew(folder.parent / "work", _load) as pool:
                from runtrue.demo.session import hold_session  # loads while the workers load theirs

                outcome = hold_session(
                    request.scenario, pool, folder=folder, keep=request.keep_sound or request.serve, now=ports.clock(),
                    tell=ports.tell, progress=progress, ledger=ports if request.serve else None,
                )  # fmt: skip
            told = outcome(str(request.out), hand_over(folder, request.out, keep=request.keep_sound))
    except BaseException:
        if new:
            shutil.rmtree(request.out, ignore_errors=True)
        raise
    if request.serve:
        from runtrue.demo.ledger import BOOK
        from runtrue.web.serve import serve

        ports.tell(f"{told.headline} {told.act}")
        serve(ServeRequest(book=str(request.out / BOOK), port=request.port), ports, progress)
    return told


def _load() -> None:
    """Load what a worker's job needs."""
    import runtrue.demo.jobs
    import runtrue.workflow.listening  # noqa: F401


def _take_place(out: Path) -> bool:
    """Make the folder; whether it is new."""
    if out.exists() and not out.is_dir():
        raise InputError(f"out {out}: is there already and no folder; name another or remove it")
    if not out.parent.is_dir():
        raise InputError(f"out {out}: there is no folder {out.parent}; make it first")
    new = not out.exists()
    try:
        out.mkdir(exist_ok=True)
    except OSError as error:
        raise SurroundingsError(
            f"out {out}: cannot be made ({error.strerror}); check the rights to the folder"
        ) from None
    if not os.access(out, os.W_OK):
        raise SurroundingsError(f"out {out}: cannot be written to; check the rights to the folder")
    return new


def hand_over(made: Path, out: Path, *, keep: bool) -> list[str]:
    """Move what is finished into the folder; the paths within it, in order."""
    files = [path.relative_to(made) for path in sorted(made.rglob("*")) if path.is_file()]
    kept = [path for path in files if keep or path.parts[0] != "sound"]
    for path in kept:
        (out / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.move(made / path, out / path)
    return [path.as_posix() for path in kept]
