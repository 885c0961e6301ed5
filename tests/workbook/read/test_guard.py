import io
import os
import struct
import tracemalloc
import zipfile
from hashlib import sha256
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.finding import Refusal
from sheetgen.workbook.read.guard import (
    Package,
    foreign_in_package,
    media_types,
    read_package,
    read_package_bytes,
)
from tests.wording import refused

_SHEET = b"<worksheet/>"

_OPEN = "application/vnd.oasis.opendocument"
_LIST = (
    f'<m:manifest><m:file-entry m:full-path="/" m:media-type="{_OPEN}.spreadsheet"/>'
    f"<m:file-entry m:media-type='{_OPEN}.chart' m:full-path='Object 1/'></m:file-entry>"
    f'<m:file-entry m:full-path="Object 2/" m:media-type="{_OPEN}.formula"/>'
    '<m:other m:full-path="x" m:media-type="y"/></m:manifest>'
).encode()


def _zip(parts: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return stream.getvalue()


def _workbook(**parts: bytes) -> bytes:
    return _zip({"_rels/.rels": b"<r/>", "xl/workbook.xml": b"<workbook/>"} | parts)


def _refused(data: bytes) -> Refusal:
    outcome = read_package_bytes(data)
    assert isinstance(outcome, Refusal)
    assert refused(outcome).found
    assert refused(outcome).expected
    return outcome


def _accepted(data: bytes) -> Package:
    outcome = read_package_bytes(data)
    assert isinstance(outcome, Package)
    return outcome


def _real_workbook() -> bytes:
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    workbook.add_worksheet("Start").write(0, 0, "text")
    workbook.close()
    return stream.getvalue()


def _with_declared_size(data: bytes, name: bytes, size: int) -> bytes:
    """Change the unpacked size that local header and directory declare for one part."""
    changed = bytearray(data)
    directory = data.index(b"PK\x01\x02")
    struct.pack_into("<L", changed, data.index(name) - 30 + 22, size)
    struct.pack_into("<L", changed, data.index(name, directory) - 46 + 24, size)
    return bytes(changed)


def test_read_package_real_workbook(tmp_path: Path) -> None:
    data = _real_workbook()
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(data)
    package = read_package(path)
    assert isinstance(package, Package)
    assert package.sha256 == sha256(data).hexdigest()
    assert package.parts["xl/worksheets/sheet1.xml"].startswith(b"<?xml")
    assert "xl/theme/theme1.xml" not in package.parts
    assert package.foreign == ()
    assert path.read_bytes() == data


def test_read_package_missing_file(tmp_path: Path) -> None:
    outcome = read_package(tmp_path / "missing.xlsx")
    assert isinstance(outcome, Refusal)
    assert (outcome.code, refused(outcome).found) == ("file-unreadable", "No such file or directory")


def test_read_package_folder(tmp_path: Path) -> None:
    outcome = read_package(tmp_path)
    assert isinstance(outcome, Refusal)
    assert (outcome.code, refused(outcome).found) == ("file-unreadable", "a folder or device")


def test_read_package_pipe_is_not_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.xlsx"
    os.mkfifo(pipe)
    outcome = read_package(pipe)
    assert isinstance(outcome, Refusal)
    assert outcome.code == "file-unreadable"


def test_read_package_huge_file_is_not_read(tmp_path: Path) -> None:
    """A sparse file of 2 GB is refused by its size on disk."""
    path = tmp_path / "huge.xlsx"
    with path.open("wb") as stream:
        stream.truncate(2 * 1024**3)
    outcome = read_package(path)
    assert isinstance(outcome, Refusal)
    assert (outcome.code, refused(outcome).found) == ("file-too-large", "a file of 2,147,483,648 bytes")


def test_read_package_bytes_above_the_bound() -> None:
    assert _refused(b"PK\x03\x04" + bytes(20_000_000)).code == "file-too-large"


@pytest.mark.parametrize(
    ("data", "code"),
    [(b"", "file-empty"), (b"%PDF-1.4", "file-pdf"), (b"a;b", "file-csv")],
)
def test_read_package_bytes_wrong_magic(data: bytes, code: str) -> None:
    assert _refused(data).code == code


# parts of the zip, code, words of what was found
_OTHER_ZIPS = [
    ({"mimetype": b"application/vnd.oasis.opendocument.text"}, "file-document", "(.odt)"),
    ({"_rels/.rels": b"", "word/document.xml": b""}, "file-document", ".docx"),
    ({"_rels/.rels": b"", "ppt/presentation.xml": b""}, "file-slides", ".pptx"),
    ({"_rels/.rels": b"", "xl/workbook.bin": b""}, "file-binary-workbook", ".xlsb"),
    ({"Index/Tables/DataList.iwa": b"", "Index/Document.iwa": b""}, "file-own-format", ".numbers"),
    ({"one.xlsx": b"", "two.xlsx": b""}, "file-archive", "holds no workbook"),
]


@pytest.mark.parametrize(("parts", "code", "words"), _OTHER_ZIPS)
def test_read_package_bytes_zip_of_another_kind(parts: dict[str, bytes], code: str, words: str) -> None:
    refusal = _refused(_zip(parts))
    assert refusal.code == code
    assert words in refused(refusal).found


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9, 0.999])
def test_read_package_bytes_cut_short(share: float) -> None:
    data = _real_workbook()
    assert _refused(data[: int(len(data) * share)]).code == "file-truncated"


def test_read_package_bytes_damaged_in_the_middle() -> None:
    data = bytearray(
        _zip({"_rels/.rels": b"<r/>", "xl/workbook.xml": b"<workbook/>" * 50}, zipfile.ZIP_STORED)
    )
    data[data.index(b"<workbook/>") + 3] ^= 0x20
    refusal = _refused(bytes(data))
    assert (refusal.code, refused(refusal).found) == (
        "file-truncated",
        "the part 'xl/workbook.xml' is damaged",
    )


def test_read_package_bytes_locked_zip() -> None:
    data = bytearray(_workbook())
    data[data.index(b"PK\x01\x02") + 8] |= 1
    assert _refused(bytes(data)).code == "file-encrypted"


def test_read_package_bytes_unknown_packing() -> None:
    assert _refused(_zip({"xl/workbook.xml": _SHEET}, zipfile.ZIP_BZIP2)).code == "file-unreadable"


def test_read_package_bytes_too_many_entries() -> None:
    refusal = _refused(_zip({f"xl/part{number}.xml": b"" for number in range(401)}))
    assert (refusal.code, refused(refusal).found) == ("file-too-large", "401 entries")


def test_read_package_bytes_directory_without_end() -> None:
    assert (
        refused(_refused(_zip({f"{number}": b"" for number in range(4100)}))).found
        == "a zip directory without end"
    )


def test_read_package_bytes_bomb_is_refused_from_the_directory() -> None:
    """No part is inflated: the memory taken stays far below what the bomb would unpack to."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/workbook.xml", "w") as part,
    ):
        for _ in range(100):
            part.write(bytes(1024 * 1024))
    data = stream.getvalue()
    tracemalloc.start()
    refusal = _refused(data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (refusal.code, refused(refusal).found) == ("file-too-large", "104,857,600 bytes when unpacked")
    assert peak < 2_000_000


def test_read_package_bytes_sum_of_parts_too_large() -> None:
    noise = os.urandom(90_000)
    parts = {f"xl/media/{number}": noise * 160 for number in range(3)}
    assert _refused(_workbook(**parts)).code == "file-too-large"


def test_read_package_bytes_packed_too_tightly() -> None:
    refusal = _refused(_workbook(**{"xl/styles.xml": bytes(3 * 1024 * 1024)}))
    assert (refusal.code, refused(refusal).found) == (
        "file-too-large",
        "a part packed more tightly than 200 to 1",
    )


def test_read_package_bytes_lying_header() -> None:
    """A part that declares 100 bytes and unpacks to ten megabytes is cut off after the 101st."""
    honest = _zip({"xl/workbook.xml": b" " * 10_000_000})
    lying = _with_declared_size(honest, b"xl/workbook.xml", 100)
    tracemalloc.start()
    refusal = _refused(lying)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert refusal.code == "file-too-large"
    assert refused(refusal).found == "a part that unpacks to more than the 100 bytes it declares"
    assert peak < 1_000_000


def test_read_package_bytes_header_that_declares_too_much() -> None:
    honest = _zip({"xl/workbook.xml": b"<workbook/>"})
    assert _refused(_with_declared_size(honest, b"xl/workbook.xml", 12)).code == "file-truncated"


@pytest.mark.parametrize("text", ["<!DOCTYPE a>", '<!DOCTYPE a [<!ENTITY b "c">]>', '<!ENTITY b "c">'])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_read_package_bytes_document_type(text: str, encoding: str) -> None:
    part = f'<?xml version="1.0"?>{text}<workbook/>'.encode(encoding)
    refusal = _refused(_workbook(**{"xl/worksheets/sheet1.xml": part}))
    assert refusal.code == "file-unsafe"
    assert "document type" in refused(refusal).found


def test_read_package_bytes_encoding_that_could_hide_a_document_type() -> None:
    part = b'<?xml version="1.0" encoding="UTF-7"?>+ADwAIQ-DOCTYPE a><workbook/>'
    assert _refused(_workbook(**{"xl/worksheets/sheet1.xml": part})).code == "file-unsafe"


@pytest.mark.parametrize(
    "name",
    ["../evil.xml", "xl/../../evil.xml", "C:/evil.xml", "C:\\evil.xml", "//host/evil.xml", "\\\\host\\evil"],
)
def test_read_package_bytes_path_that_climbs(name: str) -> None:
    assert _refused(_workbook(**{name: b""})).code == "file-unsafe"


@pytest.mark.parametrize(
    "name", ["XL/Workbook.xml", "/xl/workbook.xml", "xl\\workbook.xml", "./xl/workbook.xml"]
)
def test_read_package_bytes_same_part_twice(name: str) -> None:
    assert _refused(_workbook(**{name: b""})).code == "file-unsafe"


def test_read_package_bytes_two_names_for_one_part() -> None:
    data = bytearray(_workbook())
    data[data.index(b"xl/workbook.xml")] = ord("y")
    assert _refused(bytes(data)).code == "file-unsafe"


def test_read_package_bytes_parts_that_overlap() -> None:
    data = bytearray(_zip({"xl/workbook.xml": b"<workbook/>", "xl/styles.xml": b"<styles/>"}))
    second = data.rindex(b"PK\x01\x02")
    struct.pack_into("<L", data, second + 42, 0)
    assert refused(_refused(bytes(data))).found == "parts that lie over one another"


@pytest.mark.parametrize("name", ["/xl/Workbook.xml", "XL\\WORKBOOK.XML", "./xl/workbook.xml"])
def test_read_package_bytes_part_names_normalised(name: str) -> None:
    package = _accepted(_zip({name: b"<workbook/>", "__MACOSX/._workbook.xml": b"\x00\x05", "xl/": b""}))
    assert dict(package.parts) == {"xl/workbook.xml": b"<workbook/>"}


def test_read_package_bytes_foreign_parts_listed_but_not_opened() -> None:
    foreign = ("xl/vbaProject.bin", "xl/externalLinks/externalLink1.xml", "xl/embeddings/one.xlsx")
    doctype = b"<!DOCTYPE a>"
    package = _accepted(_workbook(**dict.fromkeys(foreign, doctype) | {"xl/media/image1.png": doctype}))
    assert package.foreign == foreign
    assert sorted(package.parts) == ["_rels/.rels", "xl/workbook.xml"]


_ODS_TYPE = b"application/vnd.oasis.opendocument.spreadsheet"
_ODS_LIST = (
    b'<manifest><file-entry full-path="/" media-type="application/vnd.oasis.opendocument.spreadsheet"/>'
    b'<file-entry full-path="Object 1/" media-type="application/vnd.oasis.opendocument.chart"/>'
    b'<file-entry full-path="Object 2" media-type="application/vnd.sun.star.oleobject"/></manifest>'
)


def _open_document(**parts: bytes) -> bytes:
    own = {"mimetype": _ODS_TYPE, "content.xml": b"<a/>", "META-INF/manifest.xml": _ODS_LIST}
    return _zip(own | parts)


def test_read_package_bytes_open_document_keeps_the_parts_that_are_read() -> None:
    package = _accepted(_open_document(**{"settings.xml": b"<!DOCTYPE a>", "Object 1/content.xml": b"<a/>"}))
    assert (package.kind, dict(package.parts), package.foreign) == ("ods", {"content.xml": b"<a/>"}, ())


@pytest.mark.parametrize("name", ["sheet.xlsx", "sheet.ods", "sheet"])
def test_read_package_bytes_kind_by_content_whatever_the_name(name: str) -> None:
    packages = [read_package_bytes(data, name) for data in (_open_document(), _workbook())]
    assert [one.kind for one in packages if isinstance(one, Package)] == ["ods", "xlsx"]


def test_read_package_bytes_open_document_packed_anew_without_its_type() -> None:
    package = _accepted(_zip({"META-INF/manifest.xml": _ODS_LIST, "content.xml": b"<a/>"}))
    assert package.kind == "ods"


def test_read_package_bytes_open_document_lists_what_is_foreign() -> None:
    package = _accepted(
        _open_document(
            **{
                "Basic/Standard/Module1.xml": b"<!DOCTYPE a>", "Scripts/python/one.py": b"", "Object 2": b"",
                "Object 1/content.xml": b"", "content.xml": b"<a><table:dde-links/></a>",
            }
        )
    )  # fmt: skip
    assert package.foreign == (
        "Basic/Standard/Module1.xml",
        "Scripts/python/one.py",
        "Object 2",
        "a live link to another program",
    )


@pytest.mark.parametrize(
    "parts",
    [
        {
            "META-INF/manifest.xml": b"<m><file-entry><encryption-data/></file-entry></m>",
            "content.xml": b"\x01",
        },
        {"encrypted-package": b"\x01\x02"},
    ],
)
def test_read_package_bytes_open_document_with_a_password(parts: dict[str, bytes]) -> None:
    assert _refused(_open_document(**parts)).code == "file-encrypted"


@pytest.mark.parametrize("name", ["content.xml", "styles.xml", "meta.xml", "META-INF/manifest.xml"])
def test_read_package_bytes_open_document_with_a_document_type(name: str) -> None:
    part = b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'
    assert _refused(_open_document(**{name: part})).code == "file-unsafe"


def test_read_package_bytes_open_document_bomb() -> None:
    assert _refused(_open_document(**{"content.xml": bytes(3 * 1024 * 1024)})).code == "file-too-large"
    lying = _with_declared_size(_open_document(**{"content.xml": b" " * 1_000_000}), b"content.xml", 100)
    assert _refused(lying).code == "file-too-large"


@given(st.binary(max_size=200))
def test_read_package_bytes_never_raises_after_the_magic(tail: bytes) -> None:
    assert isinstance(read_package_bytes(b"PK\x03\x04" + tail), Refusal)


@given(st.data())
def test_read_package_bytes_never_raises_on_changed_bytes(data: st.DataObject) -> None:
    changed = bytearray(_workbook(**{"xl/styles.xml": b"<styleSheet/>"}))
    for _ in range(data.draw(st.integers(1, 4))):
        changed[data.draw(st.integers(4, len(changed) - 1))] = data.draw(st.integers(0, 255))
    assert isinstance(read_package_bytes(bytes(changed)), (Package, Refusal))


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


def test_foreign_in_package_are_macros_and_objects_but_no_charts() -> None:
    names = [
        "content.xml", "Basic/script-lc.xml", "Dialogs/one.xml", "Scripts/python/a.py",
        "Object 1/content.xml", "Object 2/content.xml", "Object 3", "ObjectReplacements/Object 1",
        "Objects.xml",
    ]  # fmt: skip
    assert foreign_in_package(names, media_types(_LIST)) == (
        "Basic/script-lc.xml", "Dialogs/one.xml", "Scripts/python/a.py", "Object 2/content.xml", "Object 3",
    )  # fmt: skip


def test_read_package_bytes_open_document_names_each_kind_of_link_once() -> None:
    content = b"<a><table:table-source/><table:cell-range-source/><script:event-listener/></a>"
    package = _accepted(_open_document(**{"Object 2": b"", "content.xml": content}))
    assert package.foreign == ("Object 2", "a link to another workbook", "something to run by itself")
    assert _accepted(_open_document(**{"content.xml": b"<office:scripts/>"})).foreign == ()
