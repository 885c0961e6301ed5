"""Filled sheets for all pieces of evidence, made once a test process."""

import pytest

from tests.evidence.twins import PROTOCOLS, Twin, twins_of


@pytest.fixture(scope="session")
def twins(tmp_path_factory: pytest.TempPathFactory) -> tuple[Twin, ...]:
    """Two sheets each of three protocols, on record."""
    return twins_of(tmp_path_factory.mktemp("twins"), PROTOCOLS[:3], 2)
