"""The digest of the program changes with every source file and template."""

import re
import shutil
from pathlib import Path

import pytest

from sheetgen.store import program_digest as module
from sheetgen.store.program_digest import program_digest
from sheetgen.store.templates import templates_folder


def digest_of(package: Path, templates: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr(module, "_PACKAGE", package)
    monkeypatch.setattr(module, "templates_folder", lambda: templates)
    program_digest.cache_clear()
    try:
        return program_digest()
    finally:
        program_digest.cache_clear()


def test_digest_is_the_same_until_a_source_or_a_template_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert re.fullmatch("[0-9a-f]{64}", program_digest())
    package = shutil.copytree(module._PACKAGE / "core", tmp_path / "core")
    templates = shutil.copytree(templates_folder() / "protocols", tmp_path / "templates")
    first = digest_of(package, templates, monkeypatch)
    assert digest_of(package, templates, monkeypatch) == first
    (package / "more.py").write_text("", encoding="utf-8")
    second = digest_of(package, templates, monkeypatch)
    (templates / "four-sites.toml").write_text("", encoding="utf-8")
    assert len({first, second, digest_of(package, templates, monkeypatch)}) == 3
