"""`runtrue serve`: the pages of one book on this computer, with a worker beside them."""

import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace

import runtrue
from runtrue.contract.served import Served
from runtrue.errors import SurroundingsError
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.pages.taking import tidied
from runtrue.workflow.serve_request import ServeRequest

HOST = "127.0.0.1"


def serve(request: ServeRequest, ports: Ports, progress: Progress) -> Served:
    """Serve until stopped. Raises ``SurroundingsError`` where the port is taken."""
    import uvicorn

    from runtrue.web.app import make_app

    check_request(request)
    book = ports.open_book(request.book)
    tidied(book)
    app = make_app(replace(ports, open_book=lambda _given: book))
    with _listening(request.port) as door, _worker(request.book, there=not request.no_work):
        address = f"http://{HOST}:{door.getsockname()[1]}/"
        ports.tell(f"The pages of {book.plant} are at {address} (this computer alone). Ctrl-C stops them.")
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False, server_header=False))
        with suppress(KeyboardInterrupt):
            server.run(sockets=[door])
    return Served(said="The pages are closed.", address=address, book=book.place.name, version=runtrue.__version__)


@contextmanager
def _listening(port: int) -> Iterator[socket.socket]:
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind((HOST, port))
        door.listen(128)  # the address is told before the server runs; who comes at once waits
    except OSError as error:
        door.close()
        raise SurroundingsError(
            f"port {port}: is taken or not allowed ({error.strerror}); name another with --port, 0 for any free one"
        ) from None
    try:
        yield door
    finally:
        door.close()


@contextmanager
def _worker(book: str | None, *, there: bool) -> Iterator[None]:
    """A process that does what waits in the book; a lease lets another take up what it leaves."""
    if not there:
        yield
        return
    named = ["--book", book] if book is not None else []
    worker = subprocess.Popen(
        [sys.executable, "-m", "runtrue", "work", "--stay", *named], stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        yield
    finally:
        worker.terminate()
        with suppress(subprocess.TimeoutExpired):
            worker.wait(5.0)
        if worker.poll() is None:
            worker.kill()
            worker.wait()
