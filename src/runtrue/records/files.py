"""Files that are whole or not there: written beside their place, made safe on the disk, then put in place."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from uuid import uuid4

from runtrue.errors import SurroundingsError


@contextmanager
def whole(path: Path, what: str) -> Iterator[Path]:
    """Give a path to write to; what is written there takes the place of ``path`` when all went well."""
    part = path.with_name(f".{path.name}.{uuid4().hex}.part")
    try:
        yield part
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(part, path)
        _fsync_folder(path.parent)
    except OSError as error:
        if isinstance(error, SurroundingsError):
            raise
        raise SurroundingsError(
            f"{what} {path}: cannot be written ({error.strerror or error}); check the disk's free space and the rights"
        ) from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _fsync_folder(folder: Path) -> None:
    """Make a renaming last; Windows does so by itself."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
