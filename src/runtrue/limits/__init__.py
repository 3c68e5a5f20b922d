"""Limits that ship with the program: one TOML file per published standard, and one invented house file as a pattern."""

from importlib import resources

HOUSE_EXAMPLE = "house-example"
"""Name of the pattern for a plant's own file; it is nobody's standard."""


def shipped() -> list[str]:
    """Names of the published limits that ship with the program."""
    files = resources.files(__name__).iterdir()
    names = (file.name.removesuffix(".toml") for file in files if file.name.endswith(".toml"))
    return sorted(name for name in names if name != HOUSE_EXAMPLE)


def text(name: str) -> str:
    """TOML text of the shipped limits of this name, one of ``shipped()`` or the pattern."""
    return resources.files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
