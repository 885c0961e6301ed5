"""What is printed: pages of rows one below the other, and the paper forms of a session, two pages a sheet:
one to fill by hand and to type from afterwards, and behind it one with care and practice readings.

Codes only, no names. Practice readings stand on every form and no form asks who uses them, so that all papers
look alike.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import accumulate, chain, zip_longest

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.protocols.names import PRACTISED, ROUNDS, listed_words, reading_name, sex_words, start_entries
from sheetgen.protocols.protocol import Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.reference_tabs import small_image
from sheetgen.texts.languages import Texts, shown_number
from sheetgen.workbook.cells import label, text_pixels
from sheetgen.workbook.layout import Layout, Tab, Value

PAGE_WIDTH = 610
"""What all columns together may take [px at 100 %]. Where a program has not got the typeface, a wider one
makes every column a fifth wider; at the largest scale even those fit between the margins of A4."""
LINE_WIDTH = 680
"""What a line of text may take [px in the wide typeface]."""
PAGE_POINTS = 695.0
"""What all rows of a page may take [points]: a little less than Letter leaves between its margins."""
LARGEST_SCALE = 94
"""Per cent."""

_PADDING = 12

FORMS_A_TAB = 500
"""The file format takes about a thousand page breaks a tab."""

SMALLEST_ROW = 24.5
"""A row to write in [points]: 8.1 mm at the largest scale."""

_WIDTHS = (122, 60, 74, 74, 66, 66, 74, 74)
"""Of the columns [px at 100 %]; together PAGE_WIDTH."""
_GRID = ("site", "fold", "round_1", "round_2", "difference", "third_needed", "round_3", "not_taken")
_SITE_ROW = 36.0
"""Two lines, and the figure beside them [points]."""
_RULES = ("circuit", "third", "scale")
_CARE = ("choice", "worry", "screen", "quiet", "hygiene", "gentle")
_LINE_HEIGHT = 14.5
_TEXT_POINTS = 11.0
"""More than 10 on paper, at the largest scale."""


PaperCell = tuple[int, Value, str]
"""Column, value, format word."""


class Row(Struct, frozen=True):
    """One row: its height [points] and its fixed cells; the site whose small figure stands in the second."""

    height: float
    cells: tuple[PaperCell, ...] = ()
    site: Site | None = None


def printed_tab(
    key: str, title: str, rows: Sequence[Row], widths: Sequence[float], scale: int, breaks: Sequence[int] = ()
) -> Tab:
    """Return a tab of rows one below the other; widths in pixels, breaks before these rows."""
    cells = [
        label(number, column, value, format, across=2 if format == "paper_field" else 1)
        for number, row in enumerate(rows)
        for column, value, format in row.cells
    ]
    return Tab(
        key,
        title,
        tuple(cells),
        # The other way round than column_pixels.
        tuple((pixels - 5) / 7 for pixels in widths),
        tuple((number, row.height) for number, row in enumerate(rows)),
        first_entry=(0, 0),
        scale=scale,
        page_breaks=tuple(breaks),
    )


@lru_cache(maxsize=1024)
def broken(text: str, pixels: float, points: float, bold: bool = False) -> tuple[str, ...]:
    """Return a text as lines that fit a width, broken at its spaces; a word wider than that stays whole.
    pixels : what a line may take [px at 100 %]. points : size of the type.

    >>> broken("one two three", 80, 12)
    ('one two', 'three')
    """
    lines: list[str] = []
    space, filled = text_pixels(" ", bold, points), 0.0
    for word in text.split():
        wide = text_pixels(word, bold, points)
        if lines and filled + space + wide <= pixels - _PADDING:
            lines[-1], filled = f"{lines[-1]} {word}", filled + space + wide
        else:
            lines.append(word)
            filled = wide
    return tuple(lines)


def scale_for(heights: Iterable[float]) -> int:
    """Return the per cent at which rows of these heights [points] fit on one page, at least 10.
    A page of A4 as well as one of Letter.

    >>> scale_for([300.0, 300.0]), scale_for([690.0, 310.0])
    (94, 69)
    """
    needed = sum(heights)
    return max(10, min(LARGEST_SCALE, int(100 * PAGE_POINTS / needed))) if needed else LARGEST_SCALE


_GAP = Row(5.0)


class PaperForm(Struct, frozen=True):
    """One sheet, as its form needs it.
    identity : values of its identity cells and practice readings, by cell name.
    protocol, settings : what the sheet was built with. spare : made for nobody yet."""

    identity: Mapping[str, Value]
    protocol: Protocol
    settings: SheetSettings
    spare: bool = False


def paper_forms_layout(forms: Sequence[PaperForm], language: str, texts: Texts) -> Layout:
    """Return the Layout of the paper forms: one printed page a form, in the order given.
    texts : those of a sheet and of `paper.LANGUAGE`, by key.
    Raises ValueError: there is no form. KeyError: a text is missing."""
    if not forms:
        raise ValueError("no form to print")
    kinds = {(form.protocol, form.settings, form.spare): form for form in forms}
    alike = {kind: _alike(form, texts) for kind, form in kinds.items()}
    pages = []
    for number, form in enumerate(forms, start=1):
        front, back = alike[form.protocol, form.settings, form.spare]
        head, readings = _head(form, number, len(forms), texts), _readings(form, texts)
        pages += [[*head, *front], [Row(21.0, head[0].cells), *back, *readings]]
    title = texts["paper.title"]
    top = Row(20.0, ((0, title, "paper_title"),))
    scale = min(scale_for((top.height, *(row.height for row in page))) for page in pages)
    tabs = []
    for number, first in enumerate(range(0, len(pages), 2 * FORMS_A_TAB), start=1):
        part = pages[first : first + 2 * FORMS_A_TAB]
        rows = [top, *chain(*part)]
        tab_title = texts["paper.tab"] if number == 1 else f"{texts['paper.tab']} {number}"
        breaks = [*accumulate(map(len, part), initial=1)][1:-1]
        tab = printed_tab(f"forms_{number}", tab_title, rows, _WIDTHS, scale, breaks)
        drawn = (small_image(row.site, at, 1, texts) for at, row in enumerate(rows) if row.site is not None)
        images = (replace(image, x_offset=5, y_offset=6) for image in drawn if image is not None)
        tabs.append(replace(tab, images=tuple(images)))
    return Layout(title, texts["paper.subject"], language, tuple(tabs), page_text=texts["sheet.page"])


def _alike(form: PaperForm, texts: Texts) -> tuple[list[Row], list[Row]]:
    """What forms of the same protocol and settings have in common: the page to write on, below its head, and
    the one with care, above its practice readings."""
    settings = form.settings
    tolerance = shown_number(settings.tolerance, texts) + texts[f"about.tolerance_{settings.tolerance_kind}"]
    rules = (texts[f"paper.rule_{name}"].format(tolerance=tolerance) for name in _RULES)
    second = ((0, "second", "wrapped"), (2, "second_zero", "wrapped"), (4, "second_from", "field"))
    labels = ((at, texts[f"paper.{name}"], f"paper_{format}") for at, name, format in second)
    front = [
        *_fields(form, texts),
        _GAP,
        *_grid(form.protocol, texts),
        _GAP,
        Row(34.0, (*labels, *((at, "", "paper_box") for at in (1, 3, 6, 7)))),
        _GAP,
        *_lines(texts["paper.rules"], rules),
    ]
    names = {0: "site", 2: "practice_1", 3: "practice_2", 4: "practice_3"}
    titles = [(at, texts[f"paper.{name}"], "paper_practice_heading") for at, name in names.items()]
    back = [
        *_lines(texts["paper.care"], (texts[f"paper.care_{name}"] for name in _CARE)),
        _GAP,
        *_lines(texts["paper.practice"], ()),
        Row(2 * _LINE_HEIGHT, (*titles, (5, texts["paper.practice_details"], "paper_label"))),
    ]
    return front, back


def _head(form: PaperForm, number: int, count: int, texts: Texts) -> list[Row]:
    # A number that was kept as JSON comes back with a point.
    session = f"{form.identity['session_number']:g}"
    words = {**form.identity, "session_number": session, "protocol": form.protocol.title}
    who = broken(texts["paper.who"].format(**words), LINE_WIDTH, 10.0, bold=True)
    caliper = broken(_caliper_words(form, texts), LINE_WIDTH, 10.0)
    page = texts["paper.form"].format(number=number, count=count)
    return [
        Row(21.0, ((0, texts["paper.sheet"].format(**words), "paper_code"), (6, page, "paper_line"))),
        *(Row(15.0, ((0, line, "paper_label"),)) for line in who),
        *(Row(15.0, ((0, line, "paper_line"),)) for line in caliper),
    ]


def _caliper_words(form: PaperForm, texts: Texts) -> str:
    register = {caliper.identifier: caliper for caliper in form.settings.calipers}
    caliper = register[str(form.identity["issued_caliper"])]
    sign = "at" if caliper.zero == 0 else "below" if caliper.zero < 0 else "above"
    zero = texts[f"paper.zero_{sign}"].format(zero=shown_number(abs(caliper.zero), texts))
    scale = {name: shown_number(getattr(caliper, name), texts) for name in ("division", "opening")}
    return texts["paper.caliper"].format(caliper=caliper.identifier, zero=zero, **scale)


def _fields(form: PaperForm, texts: Texts) -> list[Row]:
    """What is written down once, two a row; only what the sheet asks for."""
    asked = start_entries(form.protocol)
    once = {"age_years": "age", "mass_kg": "mass"}
    names = ["own_id", "participant_id"] if form.spare else []
    names += ["date", "initials", "zero_today", "participant_today", "side", "care_read"]
    names += [name for entry, name in once.items() if entry in asked]
    names += [""] * (len(names) % 2)
    # Its words need the whole row.
    names += ["equation", ""] if "sex_equation" in asked else []
    for part in ("upper_arm", "thigh"):
        if f"length_{part}_cm" in asked:
            names += [f"length_{part}", f"midpoint_{part}"]
    words = {"side": listed_words("side"), "care_read": listed_words("cautions_confirmed")}
    words["equation"] = sex_words(form.protocol)
    fields = [(name, words.get(name, ())) for name in names]
    return [
        Row(SMALLEST_ROW, (*_field(*left, 0, texts), *_field(*right, 4, texts)))
        for left, right in zip(fields[::2], fields[1::2], strict=True)
    ]


def _field(name: str, words: Sequence[str], column: int, texts: Texts) -> list[PaperCell]:
    """What is asked for, and behind it the words to tick or a box to write in."""
    if not name:
        return []
    ticks = "   ".join(texts["paper.tick"].format(word=texts[f"word.{word}"]) for word in words)
    answer = (column + 2, ticks, "paper_choice") if words else (column + 2, "", "paper_box")
    title = texts[f"paper.{name}"]
    # What is too long is made smaller, for which its two columns are one; the others run on.
    fits = text_pixels(title, True, _TEXT_POINTS) <= sum(_WIDTHS[column : column + 2]) - _PADDING
    return [(column, title, "paper_label" if fits else "paper_field"), answer]


def _grid(protocol: Protocol, texts: Texts) -> list[Row]:
    heading = tuple((at, texts[f"paper.{name}"], "paper_heading") for at, name in enumerate(_GRID))
    boxes = tuple((at, "", "paper_box") for at in (1, 2, 3, 4, 6, 7))
    asked = (5, texts["paper.circle"], "paper_circle")
    rows = []
    for site in protocol.sites:
        said = f"{site.title}\n{texts[f'sites.{site.direction}']}"
        rows.append(Row(_SITE_ROW, ((0, said, "paper_site"), *boxes[:4], asked, *boxes[4:]), site))
    key = broken(texts["paper.reasons"], LINE_WIDTH, _TEXT_POINTS)
    return [Row(40.0, heading), *rows, *(Row(_LINE_HEIGHT + 1, ((0, line, "paper_text"),)) for line in key)]


def _lines(heading: str, sentences: Iterable[str]) -> list[Row]:
    """A heading, then each sentence from a new line on, indented below its first."""
    *before, last = broken(heading, LINE_WIDTH, _TEXT_POINTS, bold=True)
    titles = (last, *[""] * (len(_WIDTHS) - 1))
    return [
        *(Row(_LINE_HEIGHT, ((0, line, "paper_label"),)) for line in before),
        Row(_LINE_HEIGHT + 1, tuple((at, title, "paper_part") for at, title in enumerate(titles))),
        *(
            Row(_LINE_HEIGHT, ((0, ("   " if number else "– ") + line, "paper_text"),))
            for sentence in sentences
            for number, line in enumerate(broken(sentence, LINE_WIDTH - 14, _TEXT_POINTS))
        ),
    ]


def _readings(form: PaperForm, texts: Texts) -> list[Row]:
    """The invented readings of this sheet. A third stands at every site: whether it is needed is the
    measurer's to find out, here as with a caliper."""
    details = [name for name in PRACTISED if f"practice_{name}" in form.identity]
    rows = []
    for site, detail in zip_longest(form.protocol.sites, details):
        cells: list[PaperCell] = []
        if site:
            keys = {number: f"practice_{reading_name(number, site.word)}" for number in ROUNDS}
            cells.append((0, site.title, "paper_text"))
            cells += [(number + 1, form.identity.get(key), "paper_number") for number, key in keys.items()]
        if detail:
            value = form.identity[f"practice_{detail}"]
            shown = shown_number(value, texts) if isinstance(value, int | float) else texts[f"word.{value}"]
            cells += [(5, texts[f"paper.detail_{detail}"], "paper_detail"), (7, shown, "paper_text")]
        rows.append(Row(_LINE_HEIGHT, tuple(cells)))
    return rows
