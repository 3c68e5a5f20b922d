"""Two processes, each with one BLAS thread, and a line of progress for what they finish."""

import os
import sys
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from types import TracebackType
from typing import Self, TypeVar

J = TypeVar("J")
R = TypeVar("R")
WORKERS = 2
_EVERY_S = 10.0


class Pool:
    """Runs functions that other processes can import by name; a context manager."""

    def __init__(self) -> None:
        for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
            os.environ[name] = "1"
        self._executor = ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn"))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._executor.shutdown(cancel_futures=True)

    def run(self, what: str, function: Callable[[J], R], jobs: Iterable[J]) -> list[R]:
        """``function`` of every job, in the jobs' order."""
        futures = [self._executor.submit(function, job) for job in jobs]
        begin = told = time.monotonic()
        for done, _ in enumerate(as_completed(futures), start=1):
            now = time.monotonic()
            if now - told > _EVERY_S or done == len(futures):
                told = now
                print(f"{what}: {done} of {len(futures)}, {now - begin:.0f} s", file=sys.stderr, flush=True)
        return [f.result() for f in futures]
