"""Bounds of zips: the largest directory that any end declares counts; no entry gives more than declared."""

import io
import struct
import zipfile
from collections.abc import Callable

import pytest

from sheetgen.workbook.read.bounded_zip import (
    BUNDLE,
    WORKBOOK,
    BoundedZip,
    Bounds,
    ZipFault,
    climbs,
    label_of,
    open_zip,
    steps_of,
    unique_label,
)
from tests.zips import locked, zip_of

SMALL = Bounds(2, 1_000, 100, 150, 10, 50)
NOISE = bytes(range(0, 250, 5))


def opened(data: bytes, bounds: Bounds = SMALL) -> BoundedZip:
    archive = open_zip(data, bounds)
    archive.check()
    return archive


def fault(call: Callable[[], object]) -> str:
    with pytest.raises(ZipFault) as caught:
        call()
    return caught.value.case


def test_entries_are_read_whole_or_from_their_beginning() -> None:
    archive = opened(zip_of({"a": NOISE, "b": b""}))
    assert [archive.read(entry) for entry in archive.entries] == [NOISE, b""]
    assert [archive.head(entry, 3) for entry in archive.entries] == [NOISE[:3], b""]


# files in the zip, what is beyond the bounds
BEYOND = (
    ({"a": b"", "b": b"", "c": b""}, "entries"),
    ({"a": NOISE * 3}, "bytes"),
    ({"a": NOISE * 2, "b": NOISE * 2}, "bytes"),
    ({"a": b"\0" * 100}, "ratio"),
)


@pytest.mark.parametrize(("files", "case"), BEYOND)
def test_what_the_directory_tells_is_checked_before_anything_is_unpacked(
    files: dict[str, bytes], case: str
) -> None:
    bounds = Bounds(2, 1_000, 100, 150, 5, 50)
    assert fault(lambda: opened(zip_of(files), bounds)) == case


def _end(size: int) -> bytes:
    return struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 1, 1, size, 0, 0)


# what stands before the end of a zip, or behind it
ENDS = (
    zip_of({"a": b"x"})[:-22] + _end(50_000_000),
    zip_of({"a": b"x"})[:-22] + _end(50_000_000) + _end(46),
    zip_of({"a": b"x"})[:-22] + struct.pack("<4s36xQ8x", b"PK\x06\x06", 50_000_000) + _end(0xFFFFFFFF),
)


@pytest.mark.parametrize("data", ENDS)
def test_a_directory_is_as_large_as_the_largest_of_its_ends_says(data: bytes) -> None:
    for bounds in (WORKBOOK, BUNDLE):
        assert fault(lambda bounds=bounds: open_zip(data, bounds)) == "directory"


def test_a_zip_that_is_none_is_broken() -> None:
    assert fault(lambda: open_zip(b"PK\x03\x04 and no end", SMALL)) == "broken"


def test_an_entry_says_why_it_is_not_read() -> None:
    archive = opened(locked(zip_of({"a": NOISE})))
    assert fault(lambda: archive.read(archive.entries[0])) == "locked"
    archive = opened(zip_of({"a": NOISE}, method=zipfile.ZIP_BZIP2))
    assert fault(lambda: archive.head(archive.entries[0], 3)) == "method"
    archive = opened(zip_of({"a": NOISE}))
    assert fault(lambda: archive.read(archive.entries[0], most=49)) == "unpacked"


# place in local header and directory, what is written there, what is said
LIES = ((22, 24, 3, "declared"), (22, 24, 51, "damaged"), (14, 16, 7, "damaged"))


@pytest.mark.parametrize(("local", "directory", "number", "case"), LIES)
def test_an_entry_is_as_long_as_it_declares_and_has_its_checksum(
    local: int, directory: int, number: int, case: str
) -> None:
    data = bytearray(zip_of({"a": NOISE}))
    struct.pack_into("<L", data, data.find(b"PK\x03\x04") + local, number)
    struct.pack_into("<L", data, data.find(b"PK\x01\x02") + directory, number)
    archive = opened(bytes(data))
    assert fault(lambda: archive.read(archive.entries[0])) == case


def test_entries_lie_in_their_own_place_and_under_one_name() -> None:
    data = bytearray(zip_of({"a": NOISE, "b": NOISE}))
    struct.pack_into("<L", data, data.rindex(b"PK\x01\x02") + 42, 0)
    assert fault(lambda: opened(bytes(data))) == "overlap"
    data = bytearray(zip_of({"abc": NOISE}))
    data[data.index(b"abc")] = ord("x")
    archive = opened(bytes(data))
    assert fault(lambda: archive.read(archive.entries[0])) == "two-names"


def test_closing_closes_the_stream() -> None:
    archive = open_zip(zip_of({"a": b"x"}), SMALL)
    archive.close()
    assert isinstance(archive.stream, io.BytesIO)
    assert archive.stream.closed


# steps, label
LABELS = (
    (["Ada", "sheet.xlsx"], "Ada/sheet.xlsx"),
    (["A\u0308da.xlsx"], "Äda.xlsx"),
    (["..", "..", "s.xlsx"], "../../s.xlsx"),
    (["a\nb\x1b[2J.xlsx"], "a?b?[2J.xlsx"),
    (["\u202exslx.fdp"], "?xslx.fdp"),
    (["\udcff.xlsx"], "?.xlsx"),
    (["גיליון.xlsx"], "גיליון.xlsx"),
    (["نیم\u200cفاصله.xlsx"], "نیم\u200cفاصله.xlsx"),
    (["x" * 300 + ".xlsx"], "x" * 40 + "…" + "x" * 15 + ".xlsx"),
    (["x" * 60 + "\u0323\u0301" * 30_000 + "y" * 20], "x" * 40 + "…" + "y" * 20),
)


@pytest.mark.parametrize(("steps", "label"), LABELS)
def test_label_of(steps: list[str], label: str) -> None:
    assert label_of(steps) == label


def test_steps_of_takes_either_slash_and_keeps_the_way_up() -> None:
    assert steps_of("/a\\b//./../c.xlsx") == ("a", "b", "..", "c.xlsx")


def test_climbs_only_where_a_step_leads_up_or_the_name_begins_at_the_top() -> None:
    assert [climbs(name) for name in ("a..b/c", "a/..", "\\a", "c:a", "a/c:b")] == [
        False,
        True,
        True,
        True,
        False,
    ]


def test_unique_label_numbers_before_the_ending_and_not_in_a_folder() -> None:
    taken = {"v1.2/sheet": 1, "a.xlsx": 1}
    assert unique_label("v1.2/sheet", taken) == "v1.2/sheet [2]"
    assert unique_label("a.xlsx", taken) == "a [2].xlsx"


class _Counting(dict[str, int]):
    """Counts how often it is asked whether a label is taken."""

    asked = 0

    def __contains__(self, label: object) -> bool:
        self.asked += 1
        return super().__contains__(label)


def test_unique_label_asks_no_more_for_the_last_of_many_of_one_name() -> None:
    taken = _Counting()
    labels = [unique_label("a.xlsx", taken) for _ in range(1_000)]
    assert len(set(labels)) == 1_000
    assert labels[-1] == "a [1000].xlsx"
    assert taken.asked == 1_999


def test_unique_label_steps_over_a_number_that_a_name_had_of_itself() -> None:
    taken: dict[str, int] = {}
    names = ("a [2].xlsx", "a.xlsx", "a.xlsx", "a [2].xlsx", "a.xlsx")
    assert [unique_label(name, taken) for name in names] == [
        "a [2].xlsx",
        "a.xlsx",
        "a [3].xlsx",
        "a [2] [2].xlsx",
        "a [4].xlsx",
    ]
