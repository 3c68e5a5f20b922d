"""What was fetched is what lies here, with its licence beside it."""

import hashlib
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FOLDERS = [
    ROOT / "src" / "runtrue" / "paper" / "fonts",
    ROOT / "src" / "runtrue" / "web" / "static" / "vendor",
    ROOT / "tests" / "pages" / "vendor",
]


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_files_are_those_fetched_and_all_are_written_down(folder: Path) -> None:
    listed = tomllib.loads((folder / "vendor.toml").read_text(encoding="utf-8"))["file"]
    for entry in listed:
        assert hashlib.sha256((folder / entry["file"]).read_bytes()).hexdigest() == entry["sha256"], entry["file"]
        assert (folder / entry["licence_file"]).stat().st_size > 500
        assert entry["version"]
    known = {entry["file"] for entry in listed} | {entry["licence_file"] for entry in listed} | {"vendor.toml"}
    assert {path.name for path in folder.iterdir() if path.is_file() and path.suffix != ".py"} <= known
