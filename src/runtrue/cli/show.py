"""Show an outcome: one JSON object, or the page for people."""

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, is_dataclass
from typing import Any

from runtrue.contract.centre import StamperCentre
from runtrue.contract.compound import COMPOUND_RESULTS
from runtrue.contract.demo import Demonstration
from runtrue.contract.field import FieldResult
from runtrue.contract.life import LifeResult, TrendResult
from runtrue.contract.metal import MetalResult
from runtrue.contract.picture import PictureCentreResult
from runtrue.contract.press import PRESS_RESULTS
from runtrue.contract.rendering import Rendering
from runtrue.contract.study import CentringStudyResult
from runtrue.workflow.listening import Checked


def show(outcome: Any, *, as_json: bool) -> None:
    """Print the outcome of an action on stdout."""
    result = outcome.listening if isinstance(outcome, Checked) else outcome
    if as_json:
        print_json(result)
    elif isinstance(outcome, Checked):
        from runtrue.cli.listening_page import print_listening

        print_listening(outcome.listening)
    elif isinstance(outcome, StamperCentre):
        from runtrue.cli.centre_page import print_centre

        print_centre(outcome)
    elif type(outcome) in COMPOUND_RESULTS.values():
        from runtrue.cli.compound_page import print_compound

        print_compound(outcome)
    elif isinstance(outcome, Demonstration):
        from runtrue.cli.demo_page import print_demonstration

        print_demonstration(outcome)
    elif isinstance(outcome, PictureCentreResult):
        from runtrue.cli.centre_page import print_picture

        print_picture(outcome)
    elif isinstance(outcome, FieldResult):
        from runtrue.cli.centre_page import print_field

        print_field(outcome)
    elif isinstance(outcome, CentringStudyResult | MetalResult | LifeResult | TrendResult):
        _show_metal(outcome)
    elif type(outcome) in PRESS_RESULTS.values():
        from runtrue.cli.press_page import print_press

        print_press(outcome)
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


def _show_metal(outcome: CentringStudyResult | MetalResult | LifeResult | TrendResult) -> None:
    from runtrue.cli import metal_page

    match outcome:
        case CentringStudyResult():
            metal_page.print_study(outcome)
        case MetalResult():
            metal_page.print_metal(outcome)
        case LifeResult():
            metal_page.print_life(outcome)
        case TrendResult():
            metal_page.print_trend(outcome)


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
