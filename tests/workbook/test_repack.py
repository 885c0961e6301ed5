import io
import zipfile

import pytest

from sheetgen.workbook.repack import (
    packer,
    with_language,
    with_part_changed,
    with_parts_changed,
)

PROPERTIES = "docProps/core.xml"


def _package() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as package:
        package.writestr(zipfile.ZipInfo("b.xml", (2024, 5, 6, 7, 8, 10)), b"<b/>")
        package.writestr("a.xml", b"<a/>")
    return stream.getvalue()


def _parts(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {name: package.read(name) for name in package.namelist()}


def test_one_part_changed_and_the_others_kept_in_order() -> None:
    changed = _parts(with_part_changed(_package(), "b.xml", lambda part: part.replace(b"b", b"c")))
    assert list(changed.items()) == [("b.xml", b"<c/>"), ("a.xml", b"<a/>")]


def test_several_parts_changed() -> None:
    changed = _parts(with_parts_changed(_package(), {"a.xml": bytes.upper, "b.xml": bytes.upper}))
    assert changed == {"b.xml": b"<B/>", "a.xml": b"<A/>"}


def test_dates_are_fixed_and_parts_packed() -> None:
    data = with_parts_changed(_package(), {})
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert {entry.compress_type for entry in package.infolist()} == {zipfile.ZIP_DEFLATED}
        assert {entry.create_system for entry in package.infolist()} == {3}


def test_same_package_gives_the_same_bytes() -> None:
    assert with_parts_changed(_package(), {}) == with_parts_changed(_package(), {})


def test_part_that_is_not_in_the_package() -> None:
    with pytest.raises(KeyError, match=r"c\.xml"):
        with_part_changed(_package(), "c.xml", bytes.upper)


def test_language_stands_among_the_properties_of_the_document() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as package:
        package.writestr(PROPERTIES, b"<cp:coreProperties><dc:title>A</dc:title></cp:coreProperties>")
    written = _parts(with_language(stream.getvalue(), "es"))[PROPERTIES]
    assert written == (
        b"<cp:coreProperties><dc:title>A</dc:title><dc:language>es</dc:language></cp:coreProperties>"
    )


def test_language_of_a_package_without_properties() -> None:
    with pytest.raises(KeyError, match=r"docProps/core\.xml"):
        with_language(_package(), "es")


def test_packer_puts_other_parts_in_place_as_often_as_there_are_some() -> None:
    pack = packer(_package())
    first, second = pack({"a.xml": b"<c/>"}), pack({"b.xml": b"<d/>"})
    assert list(_parts(first).items()) == [("b.xml", b"<b/>"), ("a.xml", b"<c/>")]
    assert list(_parts(second).items()) == [("b.xml", b"<d/>"), ("a.xml", b"<a/>")]
    assert first == pack({"a.xml": b"<c/>"})


def test_packer_and_a_part_that_is_not_in_the_package() -> None:
    with pytest.raises(KeyError, match=r"c\.xml"):
        packer(_package())({"c.xml": b"<c/>"})
