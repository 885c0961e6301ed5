"""What a file is, by its first bytes, where it is not a zip package."""

from sheetgen.workbook.refusal import WORKBOOK_EXPECTED, Refusal

__all__ = ["ZIP_MAGIC", "not_a_workbook", "refusal_by_magic"]

ZIP_MAGIC = b"PK\x03\x04"

_COMPOUND_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_SAVE_AS = "Open it in a spreadsheet program and save it as .xlsx."
_HEAD = 4096

_MAGIC = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG\r\n\x1a\n", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"II*\x00", "a picture (TIFF)"),
    (b"MM\x00*", "a picture (TIFF)"),
    (b"BM", "a picture (BMP)"),
    (b"{\\rtf", "a text document (RTF)"),
    (b"\x1f\x8b", "a compressed archive (gzip)"),
    (b"7z\xbc\xaf\x27\x1c", "a compressed archive (7z)"),
    (b"Rar!", "a compressed archive (RAR)"),
    (b"PK\x05\x06", "an empty zip archive"),
    (b"PK\x07\x08", "one volume of a divided zip archive"),
    (b"bplist", "a shortcut or settings file (property list)"),
)


def not_a_workbook(kind: str) -> Refusal:
    """Return the refusal of a file that is something else."""
    return Refusal("file-not-a-workbook", kind, WORKBOOK_EXPECTED, "Return the filled-in workbook itself.")


def refusal_by_magic(data: bytes) -> Refusal | None:
    """Say why bytes cannot be a zip package; None where they begin like one.

    Examples
    --------
    >>> refusal_by_magic(b"%PDF-1.7 ...").found
    'a PDF'
    >>> refusal_by_magic(ZIP_MAGIC) is None
    True
    """
    if not data:
        remedy = "Save the filled-in workbook again and return that copy."
        return Refusal("file-empty", "a file of 0 bytes", WORKBOOK_EXPECTED, remedy)
    if data.startswith(ZIP_MAGIC):
        return None
    if data.startswith(_COMPOUND_MAGIC):
        return _compound_refusal(data)
    if data.startswith((b"\x09\x08\x10\x00", b"\x09\x08\x08\x00", b"\x09\x04\x06\x00", b"\x09\x02\x06\x00")):
        return _old_format("a workbook in the old .xls format")
    if not any(data[:_HEAD]) and not data.strip(b"\x00"):
        remedy = "Ask for the file again: the copy broke off before its contents arrived."
        return Refusal("file-truncated", "nothing but zero bytes", WORKBOOK_EXPECTED, remedy)
    text = _text_of(data[:_HEAD])
    for magic, kind in _MAGIC:
        # "BM" also begins ordinary words.
        if data.startswith(magic) and (text is None or len(magic) > 2):
            return not_a_workbook(kind)
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return not_a_workbook("a picture (WebP)")
    if data[4:8] == b"ftyp":
        return not_a_workbook("a photograph or film of a phone")
    return not_a_workbook("data of an unknown kind") if text is None else _text_refusal(text)


def _old_format(kind: str) -> Refusal:
    return Refusal("file-old-format", kind, WORKBOOK_EXPECTED, _SAVE_AS)


def _compound_refusal(data: bytes) -> Refusal:
    """Tell the kinds of compound file apart by the stream names in their directory (UTF-16)."""

    def holds(name: str) -> bool:
        return name.encode("utf-16-le") in data

    if holds("EncryptedPackage"):
        remedy = "Open it with its password, remove the password, save as .xlsx and return that copy."
        return Refusal("file-encrypted", "a file locked with a password", WORKBOOK_EXPECTED, remedy)
    if holds("WordDocument"):
        return not_a_workbook("a text document in an old format")
    if holds("PowerPoint Document"):
        return not_a_workbook("slides in an old format")
    if holds("Workbook") or holds("Book"):
        return _old_format("a workbook in the old .xls format")
    return not_a_workbook("a compound file that holds no workbook")


def _text_of(head: bytes) -> str | None:
    """Return the head as text, None where it cannot be text."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head[: len(head) // 2 * 2].decode("utf-16", "replace")
    try:
        text = head.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # The head may end inside a character; elsewhere the text is in an older one-byte encoding.
        cut = error.start >= len(head) - 3
        text = head[: error.start].decode("utf-8-sig") if cut else head.decode("latin-1")
    if any(character < " " and character not in "\t\r\n\f" for character in text):
        return None
    return text


def _text_refusal(text: str) -> Refusal:
    start = text.lstrip("\ufeff \t\r\n").lower()
    if start.startswith("<"):
        return _markup_refusal(start)
    if start.startswith("[internetshortcut]"):
        return not_a_workbook("a shortcut to a web address")
    if start.startswith("{"):
        shortcut = '"doc_id"' in start or '"url"' in start
        return not_a_workbook("a cloud shortcut" if shortcut else "text (JSON)")
    first_line = start.partition("\n")[0]
    if any(separator in first_line for separator in ",;\t"):
        return not_a_workbook("text with separated values (CSV)")
    return not_a_workbook("text")


def _markup_refusal(start: str) -> Refusal:
    if "<html" in start or start.startswith("<!doctype html"):
        return not_a_workbook("a web page")
    if "urn:schemas-microsoft-com:office:spreadsheet" in start or 'progid="excel.sheet"' in start:
        return _old_format("an XML spreadsheet in the format of 2003")
    if "urn:oasis:names:tc:opendocument" in start:
        found = "an OpenDocument file in one piece"
        return Refusal("file-is-ods", found, WORKBOOK_EXPECTED, _SAVE_AS)
    if "<plist" in start and "<key>url</key>" in start:
        return not_a_workbook("a shortcut to a web address")
    return not_a_workbook("text (XML)")
