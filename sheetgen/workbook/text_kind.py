"""What a file of plain text is: a table, a shortcut, a web page, a mail."""

import re

__all__ = ["text_kind", "text_of"]

_SHORTCUT_SUFFIXES = (".gsheet", ".gdoc", ".gslides", ".url", ".webloc", ".website", ".desktop")
_SHORTCUT_KEYS = ('"doc_id"', '"url"', '"resource_id"', '"resourcekey"')
_TABLE_SUFFIXES = (".csv", ".tsv", ".tab")
_WORKBOOK_SUFFIXES = (".xls", ".xlsx", ".xlsm")
_MAIL_LINE = re.compile(
    r"(?m)^(received|from|to|return-path|delivered-to|mime-version|message-id|date|subject|content-type): "
)
_SHORTCUT = ("file-shortcut", "web")


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
