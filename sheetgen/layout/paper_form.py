"""The paper forms of a session: one page a sheet, to fill by hand and to type from afterwards.

Codes only, no names. Practice readings stand on every form, so that all papers look alike and nobody asks.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sheetgen.layout.number_text import shown_number
from sheetgen.layout.printed import (
    LINE_WIDTH,
    Row,
    broken,
    cells_of,
    first_rows,
    heights_of,
    scale_for,
    width_in_characters,
)
from sheetgen.layout.vocabulary import PRACTISED, reading_name, sex_words, start_entries
from sheetgen.model.layout import Layout, Tab, Value
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Caliper, SheetSettings

__all__ = ["FORMS_A_TAB", "PaperForm", "paper_forms_layout"]

FORMS_A_TAB = 500
"""The file format takes about a thousand page breaks a tab."""

SMALLEST_ROW = 26.0
"""A row to write in: 9.2 mm [points]."""

_WIDTHS = (130, 82, 82, 72, 72, 82, 90)
"""Of the columns [px at 100 %]; together PAGE_WIDTH."""
_GRID = ("site", "round_1", "round_2", "difference", "third_needed", "round_3", "not_taken")
_RULES = ("circuit", "third", "scale")
_CARE = ("choice", "worry", "screen", "quiet", "hygiene", "gentle")
_FIELD_HEIGHT = 20.0
_LINE_HEIGHT = 12.0
_TEXT_POINTS = 9.0
_GAP = Row(5.0)

Texts = Mapping[str, str]
Field = tuple[str, str]
"""What is asked for, and the choices to tick; no choices: a box to write in."""


@dataclass(frozen=True, slots=True)
class PaperForm:
    """One sheet, as its form needs it.

    identity : values of its identity cells and practice readings, by cell name.
    protocol, settings : what the sheet was built with. spare : made for nobody yet.
    """

    identity: Mapping[str, Value]
    protocol: Protocol
    settings: SheetSettings
    spare: bool = False


def paper_forms_layout(forms: Sequence[PaperForm], language: str, texts: Texts) -> Layout:
    """Return the Layout of the paper forms: one printed page a form, in the order given.

    Parameters
    ----------
    texts : those of a sheet and of `paper.LANGUAGE`, by key.

    Raises
    ------
    ValueError : there is no form.
    KeyError : a text is missing.
    """
    if not forms:
        raise ValueError("no form to print")
    pages = [_page(form, number, len(forms), texts) for number, form in enumerate(forms, start=1)]
    head = Row(20.0, ((0, texts["paper.title"], "paper_title"),))
    scale = min(scale_for((head.height, *(row.height for row in page))) for page in pages)
    parts = [pages[at : at + FORMS_A_TAB] for at in range(0, len(pages), FORMS_A_TAB)]
    return Layout(
        title=texts["paper.title"],
        subject=texts["paper.subject"],
        language=language,
        tabs=tuple(_tab(part, number, head, scale, texts) for number, part in enumerate(parts, start=1)),
        page_text=texts["sheet.page"],
    )


def _tab(pages: Sequence[Sequence[Row]], number: int, head: Row, scale: int, texts: Texts) -> Tab:
    rows = [head, *(row for page in pages for row in page)]
    return Tab(
        f"forms_{number}",
        texts["paper.tab"] if number == 1 else f"{texts['paper.tab']} {number}",
        tuple(cells_of(rows)),
        tuple(map(width_in_characters, _WIDTHS)),
        heights_of(rows),
        first_entry=(0, 0),
        scale=scale,
        page_breaks=first_rows(pages, 1)[1:],
    )


def _page(form: PaperForm, number: int, count: int, texts: Texts) -> tuple[Row, ...]:
    return (
        *_head(form, number, count, texts),
        *_fields(form, texts),
        _GAP,
        *_grid(form.protocol, texts),
        _GAP,
        _second_caliper(texts),
        _GAP,
        *_lines(texts["paper.rules"], (_rule(name, form.settings, texts) for name in _RULES)),
        *_lines(texts["paper.care"], (texts[f"paper.care_{name}"] for name in _CARE)),
        *_practice(form, texts),
    )


def _head(form: PaperForm, number: int, count: int, texts: Texts) -> list[Row]:
    identity = form.identity
    words = {
        **{name: identity[name] for name in ("copy_code", "student_id", "participant_code")},
        # A number that was kept as JSON comes back with a point.
        "session_number": f"{identity['session_number']:g}",
        "protocol": form.protocol.title,
    }
    who = broken(texts["paper.who"].format(**words), LINE_WIDTH, 10.0, bold=True)
    caliper = broken(_caliper_words(form, texts), LINE_WIDTH, 10.0)
    page = texts["paper.form"].format(number=number, count=count)
    return [
        Row(21.0, ((0, texts["paper.sheet"].format(**words), "paper_code"), (5, page, "paper_line"))),
        *(Row(15.0, ((0, line, "paper_label"),)) for line in who),
        *(Row(15.0, ((0, line, "paper_line"),)) for line in caliper),
    ]


def _caliper_words(form: PaperForm, texts: Texts) -> str:
    caliper = _issued(form)
    sign = "at" if caliper.zero == 0 else "below" if caliper.zero < 0 else "above"
    zero = texts[f"paper.zero_{sign}"].format(zero=shown_number(abs(caliper.zero), texts))
    return texts["paper.caliper"].format(
        caliper=caliper.identifier,
        division=shown_number(caliper.division, texts),
        opening=shown_number(caliper.opening, texts),
        zero=zero,
    )


def _issued(form: PaperForm) -> Caliper:
    issued = form.identity["issued_caliper"]
    return next(caliper for caliper in form.settings.calipers if caliper.identifier == issued)


def _fields(form: PaperForm, texts: Texts) -> list[Row]:
    """What is written down once, two a row; only what the sheet asks for."""
    asked = start_entries(form.protocol)
    source = _choices(texts, ("measured", "practice"))
    items: list[Field] = (
        [(texts["paper.own_id"], ""), (texts["paper.participant_id"], "")] if form.spare else []
    )
    items += [(texts["paper.date"], ""), (texts["paper.initials"], "")]
    items += [(texts["paper.zero_today"], ""), (texts["paper.participant_today"], "")]
    items += [(texts["paper.source"], source), (texts["paper.side"], _choices(texts, ("right", "left")))]
    if "age_years" in asked:
        items.append((texts["paper.age"], ""))
    if "sex_equation" in asked:
        items.append((texts["paper.equation"], _choices(texts, sex_words(form.protocol))))
    if "mass_kg" in asked:
        items.append((texts["paper.mass"], ""))
    if len(items) % 2:
        items.append(("", ""))
    for part in ("upper_arm", "thigh"):
        if f"length_{part}_cm" in asked:
            items += [(texts[f"paper.length_{part}"], ""), (texts[f"paper.midpoint_{part}"], "")]
    return [
        Row(_FIELD_HEIGHT, (*_field(items[at], 0, 1, 1), *_field(items[at + 1], 3, 5, 4)))
        for at in range(0, len(items), 2)
    ]


def _field(field: Field, label_at: int, box_at: int, choices_at: int) -> tuple[tuple[int, Value, str], ...]:
    what, choices = field
    if not what:
        return ()
    answer = (choices_at, choices, "paper_choice") if choices else (box_at, "", "paper_box")
    # Shrunk where the next cell is taken; else it reaches over it.
    return ((label_at, what, "paper_field" if answer[0] == label_at + 1 else "paper_label"), answer)


def _choices(texts: Texts, words: Iterable[str]) -> str:
    return "   ".join(texts["paper.tick"].format(word=texts[f"word.{word}"]) for word in words)


def _grid(protocol: Protocol, texts: Texts) -> list[Row]:
    heading = tuple((at, texts[f"paper.{name}"], "paper_heading") for at, name in enumerate(_GRID))
    boxes = tuple((at, "", "paper_box") for at in (1, 2, 3, 5, 6))
    asked = (4, texts["paper.circle"], "paper_circle")
    rows = [
        Row(SMALLEST_ROW, ((0, site.title, "paper_site"), *boxes[:3], asked, *boxes[3:]))
        for site in protocol.sites
    ]
    key = broken(texts["paper.reasons"], LINE_WIDTH, _TEXT_POINTS)
    return [Row(28.0, heading), *rows, *(Row(_LINE_HEIGHT + 1, ((0, line, "paper_text"),)) for line in key)]


def _second_caliper(texts: Texts) -> Row:
    labels = ((0, "second"), (2, "second_zero"), (4, "second_from"))
    return Row(
        30.0,
        (
            *((at, texts[f"paper.{name}"], "paper_wrapped") for at, name in labels),
            *((at, "", "paper_box") for at in (1, 3, 5, 6)),
        ),
    )


def _rule(name: str, settings: SheetSettings, texts: Texts) -> str:
    tolerance = shown_number(settings.tolerance, texts) + texts[f"about.tolerance_{settings.tolerance_kind}"]
    return texts[f"paper.rule_{name}"].format(tolerance=tolerance)


def _lines(heading: str, sentences: Iterable[str]) -> list[Row]:
    """A heading, then each sentence from a new line on, indented below its first."""
    rows = [Row(_LINE_HEIGHT + 1, tuple((at, heading if at == 0 else "", "paper_part") for at in range(7)))]
    for sentence in sentences:
        lines = broken(sentence, LINE_WIDTH - 14, _TEXT_POINTS)
        starts = ("– ", *("   " for _ in lines[1:]))
        rows += [
            Row(_LINE_HEIGHT, ((0, start + line, "paper_text"),))
            for start, line in zip(starts, lines, strict=True)
        ]
    return rows


def _practice(form: PaperForm, texts: Texts) -> list[Row]:
    """The invented readings of this sheet. A third stands at every site: whether it is needed is the
    measurer's to find out, here as with a caliper."""
    columns = ("site", "practice_1", "practice_2", "practice_3", "practice_details")
    heading = tuple((at, texts[f"paper.{name}"], "paper_practice_heading") for at, name in enumerate(columns))
    headings = (*heading, (5, "", "paper_practice_heading"), (6, "", "paper_practice_heading"))
    details = [name for name in PRACTISED if f"practice_{name}" in form.identity]
    sites = form.protocol.sites
    rows = [*_lines(texts["paper.practice"], ()), Row(_LINE_HEIGHT, headings)]
    for at in range(max(len(sites), len(details))):
        cells: list[tuple[int, Value, str]] = []
        if at < len(sites):
            cells.append((0, sites[at].title, "paper_text"))
            for number in (1, 2, 3):
                name = f"practice_{reading_name(number, sites[at].word)}"
                cells.append((number, form.identity.get(name), "paper_number"))
        if at < len(details):
            value = form.identity[f"practice_{details[at]}"]
            if isinstance(value, int | float):
                shown = shown_number(float(value), texts)
            else:
                shown = texts[f"word.{value}"]
            cells += [(4, texts[f"paper.detail_{details[at]}"], "paper_detail"), (6, shown, "paper_text")]
        rows.append(Row(_LINE_HEIGHT, tuple(cells)))
    return rows
