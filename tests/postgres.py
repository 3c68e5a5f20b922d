"""A PostgreSQL for the tests: a server of our own from Debian's package, thrown away with all that is in it.

Where there is none the tests that need it say "not run"; under ``CI`` they fail, for there it has to be.
"""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.parse import quote, unquote


def programs() -> Path | None:
    """Folder of the newest server that is installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: int(p.parts[-3]))
    if found:
        return found[-1].parent
    elsewhere = shutil.which("initdb")
    return None if elsewhere is None else Path(elsewhere).resolve().parent


def wanted() -> bool:
    """Whether the tests must run on PostgreSQL."""
    return os.environ.get("CI", "").lower() in {"1", "true", "yes"}


@contextmanager
def server() -> Iterator[str]:
    """Address of a server, ``{}`` for the name of a database; LookupError where none is installed."""
    bin_folder = programs()
    if bin_folder is None:
        raise LookupError("PostgreSQL is not installed; on Debian: apt install postgresql")
    with tempfile.TemporaryDirectory(prefix="runtrue-pg-", ignore_cleanup_errors=True) as place:
        folder = Path(place)
        folder.chmod(0o777)
        data = folder / "data"
        as_server(
            bin_folder / "initdb", "-D", data, "-A", "trust", "-U", "postgres", "--no-sync", "-E", "UTF8", "--locale=C"
        )
        _start(bin_folder, folder)
        try:
            yield f"postgresql+psycopg://postgres@/{{}}?host={quote(str(folder), safe='')}"
        finally:
            as_server(bin_folder / "pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")


def _start(bin_folder: Path, folder: Path) -> None:
    options = f"-k {folder} -c listen_addresses='' -c fsync=off -c max_connections=60"
    as_server(bin_folder / "pg_ctl", "-D", folder / "data", "-o", options, "-l", folder / "log", "-w", "start")


def crash(server_address: str) -> None:
    """Kill the server at once (SIGKILL) and start it again: it recovers from its log."""
    bin_folder, folder = programs(), Path(unquote(server_address.partition("?host=")[2]))
    assert bin_folder is not None
    os.kill(int((folder / "data" / "postmaster.pid").read_text(encoding="ascii").split()[0]), signal.SIGKILL)
    for _ in range(50):
        time.sleep(0.1)  # its children go when they see that it is gone
        with suppress(RuntimeError):
            _start(bin_folder, folder)
            return
    raise RuntimeError(f"the server did not start again: see {folder / 'log'}")


def as_server(*command: object) -> None:
    """Run a program of the server, which refuses to be root."""
    words = [str(word) for word in command]
    if os.name == "posix" and os.geteuid() == 0:
        words = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups", *words]
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd="/")
    if done.returncode:
        raise RuntimeError(f"{words[-1]}: {done.stderr or done.stdout}")


def database(server_address: str, name: str, template: str = "template1") -> str:
    """Make a database, a copy of another that nobody is connected to; its address."""
    import psycopg

    plain = server_address.format("postgres").replace("+psycopg", "")
    with psycopg.connect(plain, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}" STRATEGY file_copy')
    return server_address.format(name)
