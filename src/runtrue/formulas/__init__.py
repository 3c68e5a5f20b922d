"""Formulas that ship with the program: printed ones as history with their source, and invented ones to try things on.

None is a recommendation.
"""

from importlib import resources


def shipped() -> list[str]:
    """Names of the formulas that ship with the program."""
    names = (file.name for file in resources.files(__name__).iterdir())
    return sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml"))


def text(name: str) -> str:
    """TOML text of the shipped formula of this name, one of ``shipped()``."""
    return resources.files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
