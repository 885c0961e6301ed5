from sheetgen.workbook.ods_package import foreign_in_content, foreign_in_package, is_locked, media_types

_OPEN = "application/vnd.oasis.opendocument"
_LIST = (
    f'<m:manifest><m:file-entry m:full-path="/" m:media-type="{_OPEN}.spreadsheet"/>'
    f"<m:file-entry m:media-type='{_OPEN}.chart' m:full-path='Object 1/'></m:file-entry>"
    f'<m:file-entry m:full-path="Object 2/" m:media-type="{_OPEN}.formula"/>'
    '<m:other m:full-path="x" m:media-type="y"/></m:manifest>'
).encode()


def test_media_types_by_path() -> None:
    assert media_types(_LIST) == {
        "/": "application/vnd.oasis.opendocument.spreadsheet",
        "object 1/": "application/vnd.oasis.opendocument.chart",
        "object 2/": "application/vnd.oasis.opendocument.formula",
    }
    assert media_types(b"<file-entry" * 1000) == {}


def test_media_types_of_a_list_without_end() -> None:
    """A hostile list: one tag of a million characters that never closes."""
    assert media_types(b"<" + b" file-entry" * 90_000) == {}


def test_is_locked_by_the_list_or_by_one_packed_part() -> None:
    assert is_locked(b"<m:encryption-data/>", [])
    assert is_locked(b"", ["mimetype", "encrypted-package"])
    assert not is_locked(_LIST, ["content.xml"])


def test_foreign_in_package_are_macros_and_objects_but_no_charts() -> None:
    names = [
        "content.xml", "Basic/script-lc.xml", "Dialogs/one.xml", "Scripts/python/a.py",
        "Object 1/content.xml", "Object 2/content.xml", "Object 3", "ObjectReplacements/Object 1",
        "Objects.xml",
    ]  # fmt: skip
    assert foreign_in_package(names, media_types(_LIST)) == (
        "Basic/script-lc.xml", "Dialogs/one.xml", "Scripts/python/a.py", "Object 2/content.xml", "Object 3",
    )  # fmt: skip


def test_foreign_in_content_names_each_kind_of_link_once() -> None:
    content = b"<a><table:table-source/><table:cell-range-source/><script:event-listener/></a>"
    assert foreign_in_content(content) == ("a link to another workbook", "something to run by itself")
    assert foreign_in_content(b"<office:scripts/>") == ()
