"""Progress on stderr: a bar on a terminal; elsewhere a line now and then, and only when the work takes long."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic

from runtrue.types import Progress

QUIET = 10.0
"""Seconds between plain lines; shorter work prints none, so that a log holds the result and nothing else."""


@contextmanager
def watched() -> Iterator[Progress]:
    """Give a progress function for the length of the work."""
    if sys.stderr.isatty():
        with _bar() as progress:
            yield progress
    else:
        yield _lines()


def _lines() -> Progress:
    last = monotonic()

    def progress(what: str, share: float) -> None:
        nonlocal last
        if monotonic() - last >= QUIET:
            last = monotonic()
            print(f"{what}: {100 * share:.0f} %", file=sys.stderr, flush=True)

    return progress


@contextmanager
def _bar() -> Iterator[Progress]:
    from rich.console import Console
    from rich.progress import BarColumn, TaskProgressColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    on_screen = sys.stdout.isatty()  # what is printed meanwhile goes above the bar, a file gets it untouched
    with Bar(*columns, console=Console(stderr=True), transient=True, redirect_stdout=on_screen) as bar:
        task = bar.add_task("", total=1.0)

        def progress(what: str, share: float) -> None:
            bar.update(task, description=what, completed=share)

        yield progress
