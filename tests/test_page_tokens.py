"""The style sheet's colours are those of paper, for light, dark and print."""

import re
from pathlib import Path

import pytest

import runtrue.web
from runtrue.paper.tokens import COLOURS, Role, Theme

SHEET = (Path(runtrue.web.__file__).parent / "static" / "tokens.css").read_text(encoding="utf-8")
BLOCKS = dict(
    zip((Theme.LIGHT, Theme.DARK, Theme.PRINT), re.findall(r":root \{\s*color-scheme[^}]*\}", SHEET), strict=True)
)


@pytest.mark.parametrize("theme", list(BLOCKS))
def test_colours_are_those_of_paper(theme: Theme) -> None:
    found = dict(re.findall(r"--([a-z0-9-]+): (#[0-9A-F]{6})", BLOCKS[theme]))
    assert found == {str(role): COLOURS[theme][role] for role in Role}
