"""Worker processes, gone when the work is done, has failed or was stopped.

Light to import: the workers load what they need while the process that talks to the person loads its own.
"""

import os
import shutil
import signal
import tempfile
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import active_children, get_context
from pathlib import Path

from runtrue.errors import SurroundingsError

WORKERS = 2
"""Workers of the demonstration, which fill two cores."""
ONE_THREAD = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
"""Each worker computes in one thread."""


def begin(workspace: str) -> None:
    """Make ready a worker: it leaves Ctrl-C to its parent, and its working files lie in ``workspace``."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    tempfile.tempdir = workspace


@contextmanager
def crew(folder: Path, load: Callable[[], None], *, workers: int = WORKERS) -> Iterator[ProcessPoolExecutor]:
    """Workers whose files lie in ``folder``, which goes with them; each begins with ``load``."""
    folder.mkdir()
    before = set(active_children())
    with _surroundings(ONE_THREAD):
        pool = ProcessPoolExecutor(
            workers, mp_context=get_context("spawn"), initializer=begin, initargs=(str(folder),)
        )  # fmt: skip
        try:
            with _deaf():
                for _ in range(workers):
                    pool.submit(load)
            yield pool
        except BrokenProcessPool:
            raise SurroundingsError(
                f"a worker was ended from outside; {workers} need {workers / 2:g} GB of memory: close other programs "
                "and start again"
            ) from None
        except BaseException:
            for worker in set(active_children()) - before:
                worker.terminate()
            raise
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
            shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _deaf() -> Iterator[None]:
    """Ignore Ctrl-C for the moment in which processes begin: they inherit that, and say nothing when it comes."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, heard)


@contextmanager
def _surroundings(values: dict[str, str]) -> Iterator[None]:
    """Environment variables for the processes begun meanwhile."""
    old = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in old.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
