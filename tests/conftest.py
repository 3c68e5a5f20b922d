"""What is slow by nature is marked here, so that ``make quick`` can leave it out."""

import os
import tempfile
from pathlib import Path

import pytest

os.environ["RUNTRUE_BOOK"] = str(Path(tempfile.gettempdir()) / "no-book-of-the-tests.sqlite")
"""No test looks into the book of the person who runs it; this one is never begun."""

SLOW = ("truth", "cli", "test_paper_dossier.py")
"""Folders and files under ``tests`` whose tests simulate, run whole commands or set whole documents."""
DATABASE = frozenset({"book", "place", "empty", "whole", "begun"})
"""Fixtures that open a book."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the slow places, and the tests that open a book."""
    here = Path(__file__).parent
    for item in items:
        if item.path.is_relative_to(here) and item.path.relative_to(here).parts[0] in SLOW:
            item.add_marker(pytest.mark.slow)
        if DATABASE & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.database)
