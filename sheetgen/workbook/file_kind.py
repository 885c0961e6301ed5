"""What a file is that is no zip package: by its first bytes, and by its name where those leave it open."""

from sheetgen.workbook.compound_names import COMPOUND_MAGIC, compound_names
from sheetgen.workbook.refusal import Refusal, other_kind, truncated
from sheetgen.workbook.text_kind import text_kind, text_of
from sheetgen.workbook.zip_kind import FileKind

__all__ = ["ZIP_MAGIC", "refusal_by_magic", "suffix_of"]

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
