"""An attempt as bytes and back, every number as it was."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import msgspec

from sheetgen.model.attempt import Attempt, CopyRecord, Results
from sheetgen.model.finding import Finding
from sheetgen.model.settings import BuiltWith

__all__ = ["attempt_bytes", "attempt_from"]

_Loose = str | int | float | bool | None
"""As it is in the file: 12 must not come back as 12.0."""


@dataclass(frozen=True, slots=True)
class _Record:
    copy_code: str
    session: int
    student_id: str
    participant_id: str
    participant_code: str
    caliper_id: str
    layout_digest: str
    file_name: str
    file_sha256: str
    identity: Mapping[str, _Loose]


_RECORD = tuple(one.name for one in fields(CopyRecord))


@dataclass(frozen=True, slots=True)
class _Body:
    """An Attempt without its file and what it was built with, every number as it was."""

    sha256: str
    status: str
    record: _Record | None
    protocol_id: str
    entries: Mapping[str, _Loose]
    results: Results | None
    findings: tuple[Finding, ...]
    formula_names: tuple[str, ...]
    modified: str


def attempt_bytes(attempt: Attempt) -> bytes | None:
    """Return an attempt, its file and what it was built with left out; None where the bytes would not give
    back the very same one."""
    stored = {one.name: getattr(attempt, one.name) for one in fields(_Body)}
    try:
        body = msgspec.msgpack.encode(stored)
        again = msgspec.msgpack.encode(msgspec.msgpack.decode(body, type=_Body))
    except (msgspec.MsgspecError, UnicodeError, OverflowError, TypeError):
        return None
    return body if body == again else None


def attempt_from(body: bytes, built_with: BuiltWith | None) -> Attempt | None:
    """Return the attempt in such bytes, its file left empty; None where they cannot be understood."""
    try:
        stored = msgspec.msgpack.decode(body, type=_Body)
    except (msgspec.DecodeError, UnicodeError, RecursionError):
        return None
    record = stored.record
    return Attempt(
        file="",
        sha256=stored.sha256,
        status=stored.status,
        record=None if record is None else CopyRecord(*(getattr(record, name) for name in _RECORD)),
        protocol_id=stored.protocol_id,
        entries=stored.entries,
        results=stored.results,
        findings=stored.findings,
        built_with=built_with,
        formula_names=stored.formula_names,
        modified=stored.modified,
    )
