"""Bombs: small files that would be large or slow to read; and one file read in a process of its own."""

import json
import random
import re
import struct
import subprocess
import sys
import tempfile
import time
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

if __name__ == "__main__":
    # As a script it is one child process that reads one file.
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from sheetgen.returned.whose import OnRecord
from tests.classes import attempt_of
from tests.evidence.twins import parts_of, zipped

NOBODY = OnRecord(None, "", {})
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def _zeros(size: int, declared: int | None = None, name: str = "xl/worksheets/sheet1.xml") -> bytes:
    """A package with a part of zeros, by hand: what it declares may be another size."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    block = 1 << 20
    chunk = packer.compress(b"\0" * block) + packer.flush(zlib.Z_FULL_FLUSH)
    packed = chunk * (size // block) + zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS).flush()
    kinds = {"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "META-INF/manifest.xml": b"<x/>"}
    if name != "content.xml":
        kinds = parts_of(_plain_package(b""))
    whole, directory = b"", b""
    entries = [(part, 0, data, zlib.crc32(data), len(data)) for part, data in kinds.items() if part != name]
    for part, method, data, crc, shown in [*entries, (name, 8, packed, 0x1234, declared or size)]:
        encoded = part.encode()
        fields = (20, 0, method, 0, 33, crc, len(data), shown, len(encoded), 0)
        at = len(whole)
        whole += struct.pack("<4s5H3I2H", b"PK\x03\x04", *fields) + encoded + data
        directory += struct.pack("<4s6H3I5H2I", b"PK\x01\x02", 20, *fields, 0, 0, 0, 0, at) + encoded
    count = len(entries) + 1
    return (
        whole
        + directory
        + struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, count, count, len(directory), len(whole), 0)
    )


def _plain_package(sheet: bytes, texts: bytes = b"") -> bytes:
    office = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    head = b"<worksheet xmlns='" + _MAIN.encode() + b"'>"
    rel = b"<Relationships><Relationship Id='a' Type='" + office
    return zipped(
        {
            "[Content_Types].xml": b"<Types/>",
            "_rels/.rels": rel + b"/officeDocument' Target='xl/workbook.xml'/></Relationships>",
            "xl/workbook.xml": b"<workbook xmlns='" + _MAIN.encode() + b"' xmlns:r='" + office
            + b"'><sheets><sheet name='T' r:id='a'/></sheets></workbook>",
            "xl/_rels/workbook.xml.rels": rel
            + b"/worksheet' Target='worksheets/sheet1.xml'/></Relationships>",
            "xl/worksheets/sheet1.xml": head + sheet + b"</worksheet>",
            "xl/sharedStrings.xml": b"<sst xmlns='" + _MAIN.encode() + b"'>" + texts + b"</sst>",
        },
        zipfile.ZIP_DEFLATED,
    )  # fmt: skip


def _ods(table: bytes) -> bytes:
    names = b"".join(
        b" xmlns:%s='urn:oasis:names:tc:opendocument:xmlns:%s:1.0'" % (name, name)
        for name in (b"office", b"table", b"text")
    )
    return zipped(
        {
            "mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
            "META-INF/manifest.xml": b"<x/>",
            "content.xml": b"<office:document-content"
            + names
            + b"><office:body><office:spreadsheet><table:table "
            b"table:name='T'>" + table + b"</table:table></office:spreadsheet></office:body>"
            b"</office:document-content>",
        },
        zipfile.ZIP_DEFLATED,
    )


def _varied(count: int, pattern: str) -> bytes:
    """Elements that do not pack too tightly, so that the limits behind the ratio are met."""
    dice = random.Random(5)
    return "".join(pattern.format(n=number, x=dice.getrandbits(40)) for number in range(1, count)).encode()


BOMBS: dict[str, Callable[[], bytes]] = {
    "2 GB of zeros": lambda: _zeros(2 << 30),
    "2 GB of zeros, 1 kB declared": lambda: _zeros(2 << 30, 1_024),
    "2 GB of zeros, 15 MB declared": lambda: _zeros(2 << 30, 15 << 20),
    "2 GB of zeros in a document": lambda: _zeros(2 << 30, name="content.xml"),
    "16 MB of zeros": lambda: _zeros(16 << 20),
    "700,000 cells": lambda: _plain_package(
        b"<sheetData><row r='1'>" + _varied(700_000, "<c><v>{x}</v></c>") + b"</row></sheetData>"
    ),
    "400,000 empty rows": lambda: _plain_package(
        b"<sheetData>" + _varied(400_000, "<row r='{n}' a='{x}'/>") + b"</sheetData>"
    ),
    "cells in every corner": lambda: _plain_package(
        b"<sheetData><row r='1'><c r='A1'><v>1</v></c></row>"
        b"<row r='1048576'><c r='XFD1048576'><v>1</v></c></row>"
        b"<row r='4294967295'><c r='A4294967295'><v>1</v></c></row></sheetData>"
    ),
    "rules over everything": lambda: _plain_package(
        b"<sheetData/><dataValidations>"
        + _varied(60_000, "<dataValidation type='whole' sqref='A{n}:XFD1048576 B1:C{x}'/>")
        + b"</dataValidations>"
    ),
    "a text of 18 MB": lambda: _plain_package(
        b"<sheetData/>", b"<si><t>" + _varied(900_000, "{x} ") + b"</t></si>"
    ),
    "nested 100,000 deep": lambda: _plain_package(_varied(100_000, "<a b='{x}'>")),
    "a formula of 10 MB": lambda: _plain_package(
        b"<sheetData><row r='1'><c r='A1'><f>" + _varied(600_000, "{x}+") + b"1</f></c></row></sheetData>"
    ),
    "shared formula over all": lambda: _plain_package(
        b"<sheetData>" + _varied(
            4_900, "<row r='{n}'><c r='A{n}'><f t='shared' ref='A1:XFD1048576' si='0'>B{n}+{x}</f></c></row>"
        ) + b"</sheetData>"
    ),
    "document: a row a billion times": lambda: _ods(
        b"<table:table-row table:number-rows-repeated='1000000000'><table:table-cell "
        b"table:number-columns-repeated='1000000000' office:value-type='float' office:value='1'/>"
        b"</table:table-row>"
    ),
    "document: spaces a billion times": lambda: _ods(
        b"<table:table-row><table:table-cell office:value-type='string'><text:p>"
        b"a<text:s text:c='1000000000'/>b"
        b"</text:p></table:table-cell></table:table-row>"
    ),
    "document: 200,000 rows": lambda: _ods(
        _varied(200_000, "<table:table-row a='{x}'><table:table-cell><text:p>{n}</text:p></table:table-cell>"
                         "</table:table-row>")
    ),
}  # fmt: skip
"""Small files that would be large or slow to read, each to what makes it."""


def bombs_written(folder: Path) -> Iterator[tuple[str, Path]]:
    """Write each bomb into a folder in turn; it is gone when the next is asked for."""
    for number, (name, make) in enumerate(BOMBS.items()):
        path = folder / f"bomb-{number}.xlsx"
        path.write_bytes(make())
        yield name, path
        path.unlink()


@dataclass(frozen=True, slots=True)
class Alone:
    """What one file did to a process of its own: seconds, and memory beyond what that process had before."""

    status: str
    code: str
    seconds: float
    peak_mb: float


def read_alone(path: Path) -> Alone:
    """Read one file in a process of its own, and measure.

    Raises
    ------
    RuntimeError : the process ended with a fault.
    """
    done = subprocess.run(
        [sys.executable, str(Path(__file__)), str(path)],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    if done.returncode != 0:
        raise RuntimeError(f"{path.name}: {done.returncode}: {done.stderr[-400:]}")
    said = json.loads(done.stdout)
    return Alone(said["status"], said["code"], said["seconds"], said["peak_mb"])


def memory_mb(peak: bool = False) -> float:
    """Memory of this process in MB, now or at its peak.

    The peak that the system reports for a child counts the parent in, so it is asked elsewhere where it can.
    """
    try:
        text = Path("/proc/self/status").read_text(encoding="ascii")
        found = re.search(rf"{'VmHWM' if peak else 'VmRSS'}:\s+(\d+)", text)
        return int(found[1]) / 1024 if found else 0.0
    except OSError:
        import resource

        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _alone(path: Path) -> dict[str, object]:
    with tempfile.TemporaryDirectory() as name:
        small = Path(name) / "small.xlsx"
        small.write_bytes(_plain_package(b"<sheetData/>"))
        attempt_of(small, "small.xlsx", NOBODY)
    begun = time.perf_counter()
    attempt = attempt_of(path, path.name, NOBODY)
    seconds = time.perf_counter() - begun
    code = next((one.code for one in attempt.findings), "")
    return {"status": attempt.status, "code": code, "seconds": seconds, "peak_mb": memory_mb(peak=True)}


if __name__ == "__main__":
    print(json.dumps(_alone(Path(sys.argv[1]))))
