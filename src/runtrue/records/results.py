"""Results by their key: a folder each, whole or not there, which any number of processes may read and write at once.

The key says everything that a result depends on, so two who write the same key write the same thing and the first one
stands. A folder that a failing disk tore is noticed by the digests kept beside its files and counts as not there.
"""

import json
import os
import shutil
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from uuid import uuid4

from runtrue.errors import InputError, SurroundingsError

CONTENTS = "contents.json"
"""File of a result that lists the digests of the others."""


class Results:
    """A folder of results."""

    def __init__(self, store: Path) -> None:
        self.folder = store / "results"

    def get(self, key: str) -> dict[str, bytes] | None:
        """Files of a result by their names; None if there is no such result, or it is torn."""
        place = self._place(key)
        try:
            listed = json.loads((place / CONTENTS).read_bytes())
            found = {name: (place / name).read_bytes() for name in listed}
        except (OSError, ValueError):
            return None
        whole = all(sha256(content).hexdigest() == listed[name] for name, content in found.items())
        return found if whole else None

    def put(self, key: str, files: Mapping[str, bytes]) -> None:
        """Keep the files of a result. What is there already and whole stays as it is."""
        if self.get(key) is not None:
            return
        place = self._place(key)
        part = self.folder / ".part" / uuid4().hex
        try:
            part.mkdir(parents=True)
            digests = {name: sha256(content).hexdigest() for name, content in files.items()}
            for name, content in {**files, CONTENTS: json.dumps(digests, indent=1).encode()}.items():
                with (part / name).open("wb") as file:
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
            place.parent.mkdir(parents=True, exist_ok=True)
            self._put_in_place(part, place, key)
        except OSError as error:
            raise SurroundingsError(
                f"result {key[:12]}: cannot be kept in {self.folder} ({error.strerror}); check the disk's free space "
                "and the rights"
            ) from None
        finally:
            shutil.rmtree(part, ignore_errors=True)

    def _put_in_place(self, part: Path, place: Path, key: str) -> None:
        try:
            part.rename(place)
        except OSError:
            if self.get(key) is not None:  # another process was first
                return
            torn = self.folder / ".part" / uuid4().hex
            place.rename(torn)
            shutil.rmtree(torn, ignore_errors=True)
            part.rename(place)

    def _place(self, key: str) -> Path:
        if len(key) != 64 or not set(key) <= set("0123456789abcdef"):
            raise InputError(f"result '{key[:70]}' is no key; a key has 64 hexadecimal digits")
        return self.folder / key[:2] / key


def tidy(store: Path, older_than: float, now: float) -> int:
    """Remove what killed processes left unfinished, ``older_than`` seconds old; how many."""
    removed = 0
    for folder in (store / "results" / ".part", store / "captures" / ".part"):
        for part in folder.glob("*"):
            if now - part.stat().st_mtime > older_than:
                shutil.rmtree(part, ignore_errors=True)
                part.unlink(missing_ok=True) if part.is_file() else None
                removed += 1
    return removed
