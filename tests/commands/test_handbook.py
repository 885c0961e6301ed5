"""`sheetgen handbook`: its pages, and the page that a new class folder begins with."""

from pathlib import Path

import pytest

from sheetgen.commands.handbook import page, read_me_first, topics
from sheetgen.commands.new import new_class
from sheetgen.errors import UsageError
from sheetgen.texts.languages import languages
from tests.classes import ROSTER, only_line, run

PAGES = (
    "for-departments", "gradebook", "handing-out", "languages", "lesson-and-term", "marks-and-review",
    "own-protocols", "privacy", "reading-back", "report", "the-class", "what-is-computed",
)  # fmt: skip


def test_topics_are_listed_with_their_questions() -> None:
    result = run("handbook")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert tuple(line.split()[0] for line in lines) == PAGES
    assert [line for line in lines if not line.endswith("?")] == []
    assert lines[7] == "privacy            Which files hold names or body values, and when do I delete them?"


@pytest.mark.parametrize("topic", PAGES)
def test_a_page_begins_with_its_question_and_is_short(topic: str) -> None:
    result = run("handbook", topic)
    lines = result.stdout.splitlines()
    assert (result.exit_code, lines[0]) == (0, f"# {topics()[topic]}")
    assert len(lines) <= 60
    assert "![" not in result.stdout


def test_a_near_miss_is_named() -> None:
    result = run("handbook", "privacie")
    assert (result.exit_code, only_line(result).endswith("Did you mean 'privacy'?")) == (2, True)


def test_a_topic_that_nothing_is_like() -> None:
    with pytest.raises(UsageError, match=r"no page 'xyz'; expected one of for-departments, .* lists them"):
        page("xyz")


@pytest.mark.parametrize("language", languages())
def test_read_me_first_is_one_page_in_every_language_and_names_the_folder(language: str) -> None:
    text = read_me_first(language, '"my class"')
    assert 'sheetgen read "my class"' in text
    assert (len(text.splitlines()) <= 45, "{" in text) == (True, False)


def test_a_new_folder_holds_the_page_in_the_language_of_its_class(tmp_path: Path) -> None:
    folder = new_class(tmp_path / "grupo", language="es")
    assert folder.read_me_first.read_text(encoding="utf-8") == read_me_first("es", "grupo")


def test_a_page_that_the_teacher_wrote_into_stays_and_one_that_is_gone_comes_back(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text(ROSTER, encoding="utf-8")
    page = new_class(tmp_path / "class", tmp_path / "r.csv").read_me_first
    page.write_text("ours", encoding="utf-8")
    assert run("new", tmp_path / "class", "--roster", tmp_path / "r.csv").exit_code == 0
    assert page.read_text(encoding="utf-8") == "ours"
    page.unlink()
    assert run("new", tmp_path / "class", "--roster", tmp_path / "r.csv").exit_code == 0
    assert page.read_text(encoding="utf-8") == read_me_first("en", "class")
