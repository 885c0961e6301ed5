"""Fixtures for all tests."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

# `tests.office.client` has to be importable whichever way pytest was started.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.office.client import Office

# Scripts: the one runs the tests, the other runs in another Python.
collect_ignore = ["run.py", "office/driver.py", "office/commands.py"]


@pytest.fixture(scope="session")
def office() -> Iterator[Office]:
    """A running spreadsheet program, one a test process. Fails where none is installed."""
    with Office.start() as running:
        yield running
