"""Two processes, each with one BLAS thread, and a line of progress for what they finish."""

import os
import sys
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from typing import TypeVar

J = TypeVar("J")
R = TypeVar("R")
WORKERS = 2
_EVERY_S = 10.0


def single_threaded() -> None:
    """Give each worker started from here on one BLAS thread."""
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ[name] = "1"


def run(what: str, function: Callable[[J], R], jobs: Iterable[J], *, workers: int = WORKERS) -> list[R]:
    """``function`` of every job in the jobs' order, ``workers`` at a time."""
    listed = list(jobs)
    begin = told = time.monotonic()
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        futures = [pool.submit(function, job) for job in listed]
        for done, _ in enumerate(as_completed(futures), start=1):
            now = time.monotonic()
            if now - told > _EVERY_S or done == len(listed):
                told = now
                print(f"{what}: {done} of {len(listed)}, {now - begin:.0f} s", file=sys.stderr, flush=True)
        return [f.result() for f in futures]
