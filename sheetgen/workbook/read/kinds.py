"""What a file is that is no zip package: by its first bytes, and by its name where those leave it open."""

import re
from codecs import getincrementaldecoder
from collections.abc import Collection

from sheetgen.finding import Refusal, other_kind, truncated
from sheetgen.workbook.read.bounded_zip import HEAD_OF_ZIP

FileKind = tuple[str, str, str]
"""Code and case of the finding about a file, and what kind of it where the case has several."""

_HEAD = 4096
# Pages that programs write begin with long lists of styles.
_MARKUP_HEAD = 65_536

_OLD_XLS = (b"\x09\x08\x10\x00", b"\x09\x08\x08\x00", b"\x09\x04\x06\x00", b"\x09\x02\x06\x00")

# how a file begins, what it is; pictures of phones and films share a container
_MAGIC: tuple[tuple[bytes, FileKind], ...] = (
    (b"%PDF", ("file-pdf", "", "")),
    (b"\x89PNG\r\n\x1a\n", ("file-picture", "", "PNG")),
    (b"\xff\xd8\xff", ("file-picture", "", "JPEG")),
    (b"GIF8", ("file-picture", "", "GIF")),
    (rb"II\*\x00|MM\x00\*", ("file-picture", "", "TIFF")),
    (b"BM", ("file-picture", "", "BMP")),
    (rb"\{\\rtf", ("file-document", "", "RTF")),
    (b"\x1f\x8b", ("file-archive", "", "gzip")),
    (b"7z\xbc\xaf\x27\x1c", ("file-archive", "", "7z")),
    (b"Rar!", ("file-archive", "", "RAR")),
    (b"BZh", ("file-archive", "", "bzip2")),
    (b"\xfd7zXZ\x00", ("file-archive", "", "xz")),
    (b"PK\x05\x06", ("file-archive", "empty-zip", "")),
    (b"PK\x07\x08", ("file-archive", "volume", "")),
    (b"\x4c\x00\x00\x00\x01\x14\x02\x00", ("file-shortcut", "device", "")),
    (b"bplist", ("file-shortcut", "web", "")),
    (b"ID3", ("file-recording", "sound", "")),
    (b"\x1aE\xdf\xa3", ("file-recording", "film", "")),
    (b"RIFF....WEBP", ("file-picture", "", "WebP")),
    (b"RIFF|....ftyp(?!hei[cxms]|hevc|m[is]f1|avi[fs])", ("file-recording", "", "")),
    (b"....ftyp", ("file-picture", "phone", "")),
    (b".{257}ustar", ("file-archive", "tar", "")),
)

_MAIL = "__substg1.0_"
# name of a stream in a compound file, code and case of the finding; the first that is there counts
_STREAMS = (
    # First, for what hangs on a mail is in the file too.
    (_MAIL, "file-mail", ""),
    ("EncryptedPackage", "file-encrypted", ""),
    ("WordDocument", "file-document", "old"),
    ("PowerPoint Document", "file-slides", "old"),
    ("Workbook", "file-old-format", ""),
    ("Book", "file-old-format", ""),
)

# What the end of a name says of bytes that say nothing themselves.
_BY_SUFFIX = {
    **dict.fromkeys((".png", ".jpg", ".jpeg", ".heic", ".gif", ".tif", ".tiff", ".webp", ".bmp"),
                    ("file-picture", "by-name", "")),
    **dict.fromkeys((".gsheet", ".gdoc", ".url", ".webloc", ".lnk", ".desktop"),
                    ("file-shortcut", "", "")),
    **dict.fromkeys((".part", ".partial", ".crdownload", ".download"),
                    ("file-truncated", "unfinished", "")),
    **dict.fromkeys((".mp3", ".m4a", ".wav", ".mov", ".mp4", ".avi"),
                    ("file-recording", "", "")),
}  # fmt: skip

_SHORTCUT_SUFFIXES = (".gsheet", ".gdoc", ".gslides", ".url", ".webloc", ".website", ".desktop")
_SHORTCUT_KEYS = ('"doc_id"', '"url"', '"resource_id"', '"resourcekey"')
_TABLE_SUFFIXES = (".csv", ".tsv", ".tab")
_WORKBOOK_SUFFIXES = (".xls", ".xlsx", ".xlsm")
_MAIL_LINE = re.compile(
    r"(?m)^(received|from|to|return-path|delivered-to|mime-version|message-id|date|subject|content-type): "
)
_SHORTCUT = ("file-shortcut", "web")

OPEN_XML = "xlsx"
OPEN_DOCUMENT = "ods"

_OPEN = "application/vnd.oasis.opendocument"
# how the type begins that a package declares, what it is
_DECLARED: tuple[tuple[str, FileKind], ...] = (
    (f"{_OPEN}.text", ("file-document", "", ".odt")),
    (f"{_OPEN}.presentation", ("file-slides", "", ".odp")),
    ("application/epub", ("file-document", "book", "")),
)
# a pattern of the name of a part, what the package is
_PARTS: tuple[tuple[str, FileKind], ...] = (
    (r"xl/workbook\.bin", ("file-binary-workbook", "", "")),
    (r"word/.*", ("file-document", "", ".docx")),
    (r"ppt/.*", ("file-slides", "", ".pptx")),
    (r"(.*/)?index/(master)?slide[^/]*\.iwa", ("file-slides", "own", "")),
    (r"(.*/)?index(/[^/]+\.iwa|\.zip)", ("file-own-format", "", "")),
)
# Three programs pack their documents alike, so the file's name has to tell where the parts do not.
_PACKED_ALIKE = {".key": ("file-slides", "own", ""), ".pages": ("file-document", "own", "")}
_CONTENT_TYPES = (
    (b"template.macroenabled.main+xml", "xltm"),
    (b"template.main+xml", "xltx"),
    (b"sheet.macroenabled.main+xml", "xlsm"),
)

COMPOUND_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"

_SECTOR, _ENTRY = 512, 128  # Bytes of the head of a compound file, and of an entry of its directory.


def refusal_by_magic(data: bytes, name: str = "") -> Refusal | None:
    """Say why bytes cannot be a zip package; None where they begin like one.
    name : of the file; its end is asked only where the contents leave the kind open."""
    if data.startswith(HEAD_OF_ZIP):
        return None
    if not data.strip(b" \t\r\n"):
        return other_kind("file-empty", "blanks" if data else "")
    if data.startswith(COMPOUND_MAGIC):
        return _compound_refusal(data)
    if data.startswith(_OLD_XLS):
        return other_kind("file-old-format")
    if not data.strip(b"\x00"):
        return truncated("zeros")
    code, case, kind = _kind_of_bytes(data, suffix_of(name))
    return other_kind(code, case, kind=kind)


def suffix_of(name: str) -> str:
    """Return the end of a file's name from its last full stop, in lower case; empty where it has none."""
    _, stop, end = name.rpartition(".")
    return f".{end.strip().lower()}" if stop else ""


def _kind_of_bytes(data: bytes, suffix: str) -> FileKind:
    text = text_of(data[:_HEAD])
    for magic, kind in _MAGIC:
        # "BM" and "ID3" also begin ordinary words.
        if (text is None or len(magic) > 3) and re.match(magic, data, re.DOTALL):
            return kind
    if text is None:
        return _BY_SUFFIX.get(suffix, ("file-not-a-workbook", "", ""))
    if text.lstrip().startswith("<"):
        text = text_of(data[:_MARKUP_HEAD]) or text
    return (*text_kind(text, suffix), "")


def _compound_refusal(data: bytes) -> Refusal:
    """Tell the kinds of compound file apart by the names in their directory, else by names anywhere."""
    # The streams of a mail have numbers behind their name.
    names = {_MAIL if name.startswith(_MAIL) else name for name in compound_names(data)}
    for stream, code, case in _STREAMS:
        if stream in names or (not names and stream.encode("utf-16-le") in data):
            return other_kind(code, case)
    return other_kind("file-not-a-workbook", "compound")


def text_of(head: bytes) -> str | None:
    """Return the beginning of a file as text, None where it cannot be text."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head[: len(head) // 2 * 2].decode("utf-16", "replace")
    try:
        # The head may end inside a character, of which a decoder of pieces waits for the rest.
        text = getincrementaldecoder("utf-8-sig")().decode(head)
    except UnicodeDecodeError:
        text = head.decode("latin-1")
    return None if any(sign < " " and sign not in "\t\r\n\f" for sign in text) else text


def text_kind(text: str, suffix: str = "") -> tuple[str, str]:
    """Return code and case of the finding about a text, from its beginning and the end of its file's name."""
    start = text.lstrip("\ufeff \t\r\n").lower()
    if start.startswith("<"):
        return _markup_kind(start, suffix)
    if start.startswith(("[internetshortcut]", "[desktop entry]")):
        return _SHORTCUT
    if start.startswith("{"):
        cloud = suffix in _SHORTCUT_SUFFIXES or any(key in start for key in _SHORTCUT_KEYS)
        return ("file-shortcut", "cloud") if cloud else ("file-text", "json")
    if suffix in _SHORTCUT_SUFFIXES:
        return "file-shortcut", ""
    head, _, _ = start.partition("\n\n")
    if len(set(_MAIL_LINE.findall(head.replace("\r", "")))) >= 3:
        return "file-mail", ""
    table = suffix in _TABLE_SUFFIXES or re.match(r"[^\n]*[,;\t]", start)
    return "file-csv" if table else "file-text", ""


def _markup_kind(start: str, suffix: str) -> tuple[str, str]:
    if "urn:schemas-microsoft-com:office:spreadsheet" in start or 'progid="excel.sheet"' in start:
        return "file-xml-spreadsheet", ""
    if "urn:oasis:names:tc:opendocument" in start:
        return "file-xml-spreadsheet", "open-document"
    if "<plist" in start and "<key>url</key>" in start:
        return _SHORTCUT
    page = "<html" in start or start.startswith("<!doctype html")
    if suffix in _WORKBOOK_SUFFIXES and ("<table" in start or (page and "<tr" in start)):
        return "file-web-table", ""
    if page or suffix in (".html", ".htm"):
        return "file-web-page", ""
    return "file-text", "xml"


def zip_kind(names: Collection[str], declared: str, suffix: str = "") -> str | FileKind:
    """Return the kind of a package that can be read, or what one is that cannot.
    names : of the parts, in lower case. declared : the text of the part `mimetype`, empty where there is
    none. suffix : the end of the file's name."""
    if declared.startswith(f"{_OPEN}.spreadsheet"):
        return OPEN_DOCUMENT
    for start, kind in _DECLARED:
        if declared.startswith(start):
            return kind
    if declared.startswith("application/"):
        return "file-not-a-workbook", "type", declared[:80]
    for pattern, kind in _PARTS:
        if any(re.fullmatch(pattern, name) for name in names):
            return _PACKED_ALIKE.get(suffix, kind) if kind[0] == "file-own-format" else kind
    if "_rels/.rels" not in names and "xl/workbook.xml" not in names:
        return "file-archive", "no-workbook", ""
    return OPEN_XML


def kind_of_open_xml(content_types: bytes) -> str:
    """Return `xlsx`, `xlsm`, `xltx` or `xltm`, by the part that lists the types of a package's parts."""
    plain = content_types.replace(b"\x00", b"").lower()
    return next((kind for words, kind in _CONTENT_TYPES if words in plain), OPEN_XML)


def compound_names(data: bytes) -> frozenset[str]:
    """Return the names of streams and storages: what looks like an entry of a directory, wherever it stands,
    for sectors may follow one another in any order; none of what is no compound file."""
    starts = range(_SECTOR, len(data) - _ENTRY + 1, _ENTRY) if data.startswith(COMPOUND_MAGIC) else ()
    return frozenset(_entry_name(data[start : start + _ENTRY]) for start in starts) - {""}


def _entry_name(entry: bytes) -> str:
    length = int.from_bytes(entry[64:66], "little")
    # A storage, a stream or the root, and behind the name only zeros.
    if entry[66] not in (1, 2, 5) or not 2 <= length <= 64 or entry[length - 2 : 64].strip(b"\0"):
        return ""
    return entry[: length - 2].decode("utf-16-le", "replace")
