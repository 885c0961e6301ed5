"""What a file is that is no zip package: by its first bytes, and by its name where those leave it open."""

import re
import struct
from collections.abc import Collection

from sheetgen.finding import Refusal, other_kind, truncated

ZIP_MAGIC = b"PK\x03\x04"

_HEAD = 4096
# Pages that programs write begin with long lists of styles.
_MARKUP_HEAD = 65_536
_ASK_AGAIN = "Return the filled-in workbook itself."
_SAVE_AS = "Open it in a spreadsheet program and save it as .xlsx."
_ENCRYPTED = "Open it with its password, remove the password, save as .xlsx and return that copy."

_OLD_XLS = (b"\x09\x08\x10\x00", b"\x09\x08\x08\x00", b"\x09\x04\x06\x00", b"\x09\x02\x06\x00")

# first bytes, code and case of the finding, what kind of it
_MAGIC = (
    (b"%PDF", "file-pdf", "", ""),
    (b"\x89PNG\r\n\x1a\n", "file-picture", "", "PNG"),
    (b"\xff\xd8\xff", "file-picture", "", "JPEG"),
    (b"GIF8", "file-picture", "", "GIF"),
    (b"II*\x00", "file-picture", "", "TIFF"),
    (b"MM\x00*", "file-picture", "", "TIFF"),
    (b"BM", "file-picture", "", "BMP"),
    (b"{\\rtf", "file-document", "", "RTF"),
    (b"\x1f\x8b", "file-archive", "", "gzip"),
    (b"7z\xbc\xaf\x27\x1c", "file-archive", "", "7z"),
    (b"Rar!", "file-archive", "", "RAR"),
    (b"BZh", "file-archive", "", "bzip2"),
    (b"\xfd7zXZ\x00", "file-archive", "", "xz"),
    (b"PK\x05\x06", "file-archive", "empty-zip", ""),
    (b"PK\x07\x08", "file-archive", "volume", ""),
    (b"\x4c\x00\x00\x00\x01\x14\x02\x00", "file-shortcut", "device", ""),
    (b"bplist", "file-shortcut", "web", ""),
    (b"ID3", "file-recording", "sound", ""),
    (b"\x1aE\xdf\xa3", "file-recording", "film", ""),
)
# Kinds of the container that pictures of phones and films share.
_STILL_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1", b"avif", b"avis")

_MAIL = "__substg1.0_"
# name of a stream in a compound file, code and case of the finding; the first that is there counts
_STREAMS = (
    ("EncryptedPackage", "file-encrypted", ""),
    ("WordDocument", "file-document", "old"),
    ("PowerPoint Document", "file-slides", "old"),
    ("Workbook", "file-old-format", ""),
    ("Book", "file-old-format", ""),
    (_MAIL, "file-mail", ""),
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

FileKind = tuple[str, str, str]
"""Code and case of the finding about a file, and what kind of it where the case has several."""

OPEN_XML = "xlsx"
OPEN_DOCUMENT = "ods"

_OPEN_DOCUMENT_TYPES = (
    ("application/vnd.oasis.opendocument.text", "file-document", "", ".odt"),
    ("application/vnd.oasis.opendocument.presentation", "file-slides", "", ".odp"),
    ("application/epub", "file-document", "book", ""),
)
_SPREADSHEET_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
# Three programs pack their documents alike, so the parts and then the file's name have to tell.
_PACKED = re.compile(r"(^|/)index(/[^/]+\.iwa|\.zip)$")
_PACKED_SLIDES = re.compile(r"(^|/)index/(master)?slide[^/]*\.iwa$")
_FOLDERS = (
    ("word/", "file-document", "", ".docx"),
    ("ppt/", "file-slides", "", ".pptx"),
)
_CONTENT_TYPES = (
    (b"template.macroenabled.main+xml", "xltm"),
    (b"template.main+xml", "xltx"),
    (b"sheet.macroenabled.main+xml", "xlsm"),
)

COMPOUND_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"

_HEADER = struct.Struct("<30xH16xL24x109L")
"""Sector size as a power of two, first sector of the directory, first 109 sectors of the sector table."""
_HEADER_SIZE = 512
_ENTRY_SIZE = 128
_MOST_ENTRIES = 2_000
_SECTOR_POWERS = (9, 12)


def refusal_by_magic(data: bytes, name: str = "") -> Refusal | None:
    """Say why bytes cannot be a zip package; None where they begin like one.

    Parameters
    ----------
    name : of the file; its end is asked only where the contents leave the kind open.

    Examples
    --------
    >>> refusal_by_magic(b"%PDF-1.7 ...").code
    'file-pdf'
    >>> refusal_by_magic(ZIP_MAGIC) is None
    True
    """
    if data.startswith(ZIP_MAGIC):
        return None
    if not data.strip(b" \t\r\n"):
        case = "blanks" if data else ""
        return other_kind("file-empty", case, "Save the filled-in workbook again and return that copy.")
    if data.startswith(COMPOUND_MAGIC):
        return _compound_refusal(data)
    if data.startswith(_OLD_XLS):
        return other_kind("file-old-format")
    if not any(data[:_HEAD]) and not data.strip(b"\x00"):
        return truncated("zeros")
    text = text_of(data[:_HEAD])
    code, case, kind = _by_first_bytes(data, text) or ("", "", "")
    if not code:
        suffix = suffix_of(name)
        if text is not None:
            markup = text.lstrip().startswith("<")
            code, case = text_kind((text_of(data[:_MARKUP_HEAD]) if markup else None) or text, suffix)
        else:
            code, case, kind = _BY_SUFFIX.get(suffix, ("file-not-a-workbook", "", ""))
    return other_kind(code, case, _ASK_AGAIN, kind=kind)


def suffix_of(name: str) -> str:
    """Return the end of a file's name from its last full stop, in lower case; empty where it has none.

    Examples
    --------
    >>> suffix_of("Sheet of Ada.XLS"), suffix_of("sheet")
    ('.xls', '')
    """
    _, stop, end = name.rpartition(".")
    return f".{end.strip().lower()}" if stop else ""


def _by_first_bytes(data: bytes, text: str | None) -> FileKind | None:
    for magic, code, case, kind in _MAGIC:
        # "BM" and "ID3" also begin ordinary words.
        if data.startswith(magic) and (text is None or len(magic) > 3):
            return code, case, kind
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "file-picture", "", "WebP"
    if data[:4] == b"RIFF":
        return "file-recording", "", ""
    if data[4:8] == b"ftyp":
        if data[8:12] in _STILL_BRANDS:
            return "file-picture", "phone", ""
        return "file-recording", "", ""
    if data[257:262] == b"ustar":
        return "file-archive", "tar", ""
    return None


def _compound_refusal(data: bytes) -> Refusal:
    """Tell the kinds of compound file apart by the names in their directory.

    Where the directory cannot be followed, the names are looked for anywhere in the file.
    """
    names = compound_names(data)
    for stream, code, case in _STREAMS:
        # The streams of a mail have numbers behind this.
        there = any(name == stream or (stream == _MAIL and name.startswith(stream)) for name in names)
        if there or (not names and stream.encode("utf-16-le") in data):
            remedy = {"file-encrypted": _ENCRYPTED, "file-old-format": _SAVE_AS}.get(code, _ASK_AGAIN)
            return other_kind(code, case, remedy)
    return other_kind("file-not-a-workbook", "compound", _ASK_AGAIN)


def text_of(head: bytes) -> str | None:
    """Return the beginning of a file as text, None where it cannot be text."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head[: len(head) // 2 * 2].decode("utf-16", "replace")
    try:
        text = head.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # The head may end inside a character; elsewhere the text is in an older one-byte encoding.
        cut = error.start >= len(head) - 3 and error.reason == "unexpected end of data"
        text = head[: error.start].decode("utf-8-sig") if cut else head.decode("latin-1")
    if any(character < " " and character not in "\t\r\n\f" for character in text):
        return None
    return text


def text_kind(text: str, suffix: str = "") -> tuple[str, str]:
    """Return code and case of the finding about a text, from its beginning and the end of its file's name.

    Examples
    --------
    >>> text_kind("site;round 1;round 2")
    ('file-csv', '')
    """
    start = text.lstrip("\ufeff \t\r\n").lower()
    if start.startswith("<"):
        return _markup_kind(start, suffix)
    if start.startswith(("[internetshortcut]", "[desktop entry]")):
        return _SHORTCUT
    if start.startswith("{"):
        if suffix in _SHORTCUT_SUFFIXES or any(key in start for key in _SHORTCUT_KEYS):
            return "file-shortcut", "cloud"
        return "file-text", "json"
    if suffix in _SHORTCUT_SUFFIXES:
        return "file-shortcut", ""
    head, _, _ = start.partition("\n\n")
    if len({match[1] for match in _MAIL_LINE.finditer(head.replace("\r", ""))}) >= 3:
        return "file-mail", ""
    first_line = start.partition("\n")[0]
    if suffix in _TABLE_SUFFIXES or any(separator in first_line for separator in ",;\t"):
        return "file-csv", ""
    return "file-text", ""


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

    Parameters
    ----------
    names : of the parts, in lower case.
    declared : the text of the part `mimetype`, empty where there is none.
    suffix : the end of the file's name.

    Examples
    --------
    >>> zip_kind(["xl/workbook.xml"], "")
    'xlsx'
    >>> zip_kind(["xl/workbook.bin"], "")
    ('file-binary-workbook', '', '')
    """
    if declared.startswith(_SPREADSHEET_TYPE):
        return OPEN_DOCUMENT
    for start, code, case, what in _OPEN_DOCUMENT_TYPES:
        if declared.startswith(start):
            return code, case, what
    if declared.startswith("application/"):
        return "file-not-a-workbook", "type", declared[:80]
    if "xl/workbook.bin" in names:
        return "file-binary-workbook", "", ""
    for folder, code, case, what in _FOLDERS:
        if any(name.startswith(folder) for name in names):
            return code, case, what
    if any(_PACKED.search(name) for name in names):
        return _packed_kind(names, suffix)
    if "_rels/.rels" not in names and "xl/workbook.xml" not in names:
        return "file-archive", "no-workbook", ""
    return OPEN_XML


def kind_of_open_xml(content_types: bytes) -> str:
    """Return `xlsx`, `xlsm`, `xltx` or `xltm`, by the part that lists the types of a package's parts."""
    plain = content_types.replace(b"\x00", b"").lower()
    return next((kind for words, kind in _CONTENT_TYPES if words in plain), OPEN_XML)


def _packed_kind(names: Collection[str], suffix: str) -> FileKind:
    if suffix == ".key" or any(_PACKED_SLIDES.search(name) for name in names):
        return "file-slides", "own", ""
    if suffix == ".pages":
        return "file-document", "own", ""
    return "file-own-format", "", ""


def compound_names(data: bytes) -> frozenset[str]:
    """Return the names of streams and storages; none where the directory cannot be followed.

    Notes
    -----
    At most 2,000 entries are looked at, and a chain of sectors ends where it comes back to itself.
    """
    if len(data) < _HEADER_SIZE or not data.startswith(COMPOUND_MAGIC):
        return frozenset()
    power, sector, *table_sectors = _HEADER.unpack_from(data)
    if power not in _SECTOR_POWERS:
        return frozenset()
    size = 1 << power
    names: set[str] = set()
    seen: set[int] = set()
    while sector not in seen and len(seen) * size < _MOST_ENTRIES * _ENTRY_SIZE:
        seen.add(sector)
        content = _sector(data, sector, size)
        for start in range(0, len(content) - _ENTRY_SIZE + 1, _ENTRY_SIZE):
            names.add(_entry_name(content[start : start + _ENTRY_SIZE]))
        sector = _next_sector(data, sector, size, table_sectors)
    return frozenset(names - {""})


def _sector(data: bytes, number: int, size: int) -> bytes:
    start = (number + 1) * size
    return data[start : start + size]


def _next_sector(data: bytes, number: int, size: int, table_sectors: list[int]) -> int:
    """The sector that follows in its chain; one beyond the file where the chain ends or is broken."""
    block, place = divmod(number, size // 4)
    table = _sector(data, table_sectors[block], size) if block < len(table_sectors) else b""
    following = table[place * 4 : place * 4 + 4]
    return int.from_bytes(following, "little") if len(following) == 4 else len(data)


def _entry_name(entry: bytes) -> str:
    length = int.from_bytes(entry[64:66], "little")
    if not entry[66] or not 2 <= length <= 64:
        return ""
    return entry[: length - 2].decode("utf-16-le", "replace")
