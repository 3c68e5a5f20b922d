"""Fetch the fonts and scripts that paper and pages carry, and write down what was fetched.

Run ``python tools/vendor.py`` from the root of the repository; needs npm. Each package is named with its version; npm
takes it from whatever registry it is set up for. The files are committed, so nobody needs to run this to build or use
the program; ``tests/test_vendored.py`` compares them with the ``vendor.toml`` beside them.
"""

import hashlib
import subprocess
import sys
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FONTS = ROOT / "src" / "runtrue" / "paper" / "fonts"
SCRIPTS = ROOT / "src" / "runtrue" / "web" / "static" / "vendor"
AXE = ROOT / "tests" / "pages" / "vendor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """One npm package, the files taken out of it and the name each gets here, in ``folder``."""

    folder: Path
    name: str
    version: str
    licence: str
    licence_member: str
    licence_file: str
    members: dict[str, str]


PACKAGES = (
    Package(
        folder=FONTS,
        name="@expo-google-fonts/atkinson-hyperlegible-next",
        version="0.4.1",
        licence="OFL-1.1",
        licence_member="LICENSE_FONT",
        licence_file="LICENCE-AtkinsonHyperlegibleNext.txt",
        members={
            "400Regular/AtkinsonHyperlegibleNext_400Regular.ttf": "AtkinsonHyperlegibleNext-400.ttf",
            "600SemiBold/AtkinsonHyperlegibleNext_600SemiBold.ttf": "AtkinsonHyperlegibleNext-600.ttf",
            "700Bold/AtkinsonHyperlegibleNext_700Bold.ttf": "AtkinsonHyperlegibleNext-700.ttf",
        },
    ),
    Package(
        folder=FONTS,
        name="dejavu-fonts-ttf",
        version="2.37.3",
        licence="Bitstream-Vera",
        licence_member="LICENSE",
        licence_file="LICENCE-DejaVuSans.txt",
        members={"ttf/DejaVuSans.ttf": "DejaVuSans.ttf", "ttf/DejaVuSans-Bold.ttf": "DejaVuSans-Bold.ttf"},
    ),
    Package(
        folder=SCRIPTS,
        name="htmx.org",
        version="4.0.1",
        licence="0BSD",
        licence_member="LICENSE",
        licence_file="LICENCE-htmx.txt",
        members={"dist/htmx.min.js": "htmx.min.js"},
    ),
    Package(
        folder=SCRIPTS,
        name="uplot",
        version="1.6.32",
        licence="MIT",
        licence_member="LICENSE",
        licence_file="LICENCE-uPlot.txt",
        members={"dist/uPlot.iife.min.js": "uPlot.iife.min.js", "dist/uPlot.min.css": "uPlot.min.css"},
    ),
    Package(
        folder=AXE,
        name="axe-core",
        version="4.14.1",
        licence="MPL-2.0",
        licence_member="LICENSE",
        licence_file="LICENCE-axe-core.txt",
        members={"axe.min.js": "axe.min.js"},
    ),
)


def packed(package: Package, folder: Path) -> Path:
    """Let npm pack the package into ``folder`` and return the archive."""
    ran = subprocess.run(
        ["npm", "pack", "--silent", f"{package.name}@{package.version}"],
        cwd=folder,
        check=True,
        capture_output=True,
        text=True,
    )
    return folder / ran.stdout.split()[-1]


def take(archive: Path, member: str, target: Path) -> str:
    """Copy ``member`` of the archive to ``target``; returns its SHA-256."""
    with tarfile.open(archive) as tar:
        stream = tar.extractfile(f"package/{member}")
        if stream is None:
            raise SystemExit(f"{archive.name} holds no file {member}")
        content = stream.read()
    target.write_bytes(content)
    return hashlib.sha256(content).hexdigest()


def entry(package: Package, file: str, digest: str, member: str) -> str:
    """Return one table of ``vendor.toml``."""
    fields = {
        "file": file,
        "package": package.name,
        "version": package.version,
        "member": member,
        "sha256": digest,
        "licence": package.licence,
        "licence_file": package.licence_file,
    }
    return "[[file]]\n" + "".join(f'{key} = "{value}"\n' for key, value in fields.items())


def main() -> int:
    """Fetch everything and rewrite each folder's ``vendor.toml``."""
    for target in dict.fromkeys(package.folder for package in PACKAGES):
        target.mkdir(parents=True, exist_ok=True)
        tables = ["# Written by tools/vendor.py: where each file comes from. A test compares the digests.\n"]
        for package in (one for one in PACKAGES if one.folder == target):
            with tempfile.TemporaryDirectory() as folder:
                archive = packed(package, Path(folder))
                take(archive, package.licence_member, target / package.licence_file)
                for member, file in package.members.items():
                    tables.append(entry(package, file, take(archive, member, target / file), member))
                    print(f"{package.name} {package.version}: {file}", file=sys.stderr)
        (target / "vendor.toml").write_text("\n".join(tables), encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
