"""Show an outcome: one JSON object, or the page for people."""

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, is_dataclass
from importlib import import_module
from typing import Any

from runtrue.contract.compound import COMPOUND_RESULTS
from runtrue.contract.copies import Copies
from runtrue.contract.demo import Demonstration
from runtrue.contract.heard import HEARD_RESULTS
from runtrue.contract.press import PRESS_RESULTS
from runtrue.contract.rendering import Rendering
from runtrue.contract.ring import FinderRing
from runtrue.contract.served import Served
from runtrue.contract.stamper import STAMPER_RESULTS
from runtrue.workflow.listening import Checked

_PAGES: dict[type, tuple[str, str]] = {
    Copies: ("copies_page", "print_copies"),
    FinderRing: ("copies_page", "print_ring"),
    Demonstration: ("demo_page", "print_demonstration"),
    **dict.fromkeys(HEARD_RESULTS.values(), ("heard_page", "print_heard")),
    **dict.fromkeys(STAMPER_RESULTS.values(), ("stamper_pages", "print_stamper")),
    **dict.fromkeys(COMPOUND_RESULTS.values(), ("compound_page", "print_compound")),
    **dict.fromkeys(PRESS_RESULTS.values(), ("press_page", "print_press")),
}
"""Module and function that print a result; only the one that is needed is loaded."""


def show(outcome: Any, *, as_json: bool) -> None:
    """Print the outcome of an action on stdout."""
    result = outcome.listening if isinstance(outcome, Checked) else outcome
    if as_json:
        print_json(result)
    elif isinstance(outcome, Checked):
        from runtrue.cli.listening_page import print_listening

        print_listening(outcome.listening)
    elif type(outcome) in _PAGES:
        module, function = _PAGES[type(outcome)]
        getattr(import_module(f"runtrue.cli.{module}"), function)(outcome)
    elif isinstance(outcome, Served):
        print(outcome.said)
    elif isinstance(outcome, Rendering):
        truth = outcome.truth
        print(
            f"{outcome.file}: {outcome.duration_s:.1f} s; off-centre {truth['played_offset_um']:.0f} μm, "
            f"{len(truth['ticks'])} ticks, {len(truth['jumps'])} jumps. --json prints the whole truth."
        )
    elif type(outcome).__module__ == "runtrue.contract.book":
        from runtrue.cli.book_page import print_book

        print_book(outcome)
    else:
        raise TypeError(f"no page for {type(outcome).__name__}")


def teller(*, as_json: bool) -> Callable[[str], None]:
    """Print at once what is known before the outcome: on stdout, or on stderr where stdout holds one JSON object."""
    stream = sys.stderr if as_json else sys.stdout

    def tell(said: str) -> None:
        print(said, file=stream, flush=True)

    return tell


@contextmanager
def reader_may_leave() -> Iterator[None]:
    """Whoever reads our output may stop, as in "| head": the exit code still tells the verdict."""
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def print_json(result: Any) -> None:
    """Print a result as one JSON object with a trailing line end; UTF-8 whatever the terminal speaks."""
    assert is_dataclass(result)
    assert not isinstance(result, type)
    text = json.dumps(asdict(result), ensure_ascii=not _speaks_utf8(), allow_nan=False, indent=1)
    sys.stdout.write(text + "\n")


def _speaks_utf8() -> bool:
    return (sys.stdout.encoding or "").lower().replace("-", "") == "utf8"
