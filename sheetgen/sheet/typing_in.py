"""The workbook into which somebody types the paper forms of a session, a row a form and round; and what was
typed into one that came back.

A row of words that nobody sees says what each column is, so that it is read wherever its rows went.
"""

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from sheetgen.protocols.names import LEFT_OUT, ROUNDS, not_taken_names, reading_name, start_entries
from sheetgen.sheet.heading import column_headings, words_entry
from sheetgen.sheet.paper import PaperForm
from sheetgen.sheet.start_tabs import start_entry
from sheetgen.sheet.working import own_rule
from sheetgen.texts.languages import Texts
from sheetgen.workbook.addresses import absolute, column_letters, in_tab
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import BAR_HEIGHTS, entry, formula, label, text_rule, title_bar
from sheetgen.workbook.layout import Cell, Emphasis, Layout, Rule, Tab, Value
from sheetgen.workbook.snapshot import Snapshot, TabState

_MARK = "typing-in "
"""What the row of words begins with; the class code follows."""
_WORDS, _HEADINGS = 3, 4
_CODES = ("copy_code", "participant_code", "issued_caliper")
_ROUND = len(_CODES)
_FIRST_SITE = _ROUND + 1
_HIDDEN = ("build", "division", "opening", "division_2", "opening_2", "zero")
_WIDTHS = (14, 13, 10, 9)
_REGISTER = "Register"


class TypedForm(Struct, frozen=True):
    """What was typed of one form. build : digest of the sheet it stands for. entries : by name, as typed."""

    copy_code: str
    build: str
    entries: Mapping[str, Value]


class _Columns(Struct, frozen=True):
    """of_round : names of the entries of a round, with ROUND in its place. once : of those in the first row.
    titles : of all of them. at : column of each, and of the hidden numbers."""

    of_round: tuple[str, ...]
    once: tuple[str, ...]
    titles: tuple[str, ...]
    at: Mapping[str, int]


def typing_in_layout(
    forms: Sequence[tuple[PaperForm, str]], class_code: str, language: str, texts: Texts
) -> Layout:
    """Return the Layout of the workbook: a tab for each set of sites, three rows a form.
    forms : each with the digest of its sheet. texts : those of a sheet and of `paper.LANGUAGE`, by key.
    Raises ValueError: there is no form. KeyError: a text is missing."""
    if not forms:
        raise ValueError("no form to type in")
    alike: dict[tuple[str, ...], list[tuple[PaperForm, str]]] = {}
    for form, build in forms:
        alike.setdefault(tuple(site.word for site in form.protocol.sites), []).append((form, build))
    calipers = {one.identifier: one for form, _ in forms for one in form.settings.calipers}
    known: list[Cell] = []
    for row, one in enumerate(calipers.values()):
        known += [label(row, 0, one.identifier), label(row, 1, one.division), label(row, 2, one.opening)]
    register = Tab("register", _REGISTER, tuple(known), hidden=True)
    tabs = [
        _tab(f"typing_{at}", f"{texts['typing.tab']} {at}", of_tab, class_code, len(calipers), texts)
        for at, of_tab in enumerate(alike.values(), start=1)
    ]
    title, subject, page = (texts[name] for name in ("typing.title", "typing.subject", "sheet.page"))
    return Layout(title, subject, language, (*tabs, register), page_text=page)


def _columns(form: PaperForm, texts: Texts) -> _Columns:
    protocol, once, titles = form.protocol, [], [site.title for site in form.protocol.sites]
    for name in (one for one in start_entries(protocol) if one != "participant_agrees"):
        once.append(name)
        if name.startswith("length_"):
            once.append(name.replace("length_", "own_midpoint_"))
    titles += [texts[f"entry.{name}"] for name in once]
    titles += [f"{texts['readings.left_out']} {site.title}" for site in protocol.sites]
    of_round = tuple(f"reading_ROUND_{site.word}" for site in protocol.sites)
    once += not_taken_names(protocol)
    at = {name: column for column, name in enumerate((*of_round, *once, *_HIDDEN), start=_FIRST_SITE)}
    return _Columns(of_round, tuple(once), tuple(titles), at)


def _tab(
    key: str, title: str, forms: Sequence[tuple[PaperForm, str]], class_code: str, calipers: int, texts: Texts
) -> Tab:
    columns = _columns(forms[0][0], texts)
    shown = _FIRST_SITE + len(columns.titles)
    words = (f"{_MARK}{class_code}", *_CODES[1:], "round", *columns.of_round, *columns.once, *_HIDDEN)
    titles = [*(texts[f"typing.{name}"] for name in (*_CODES, "round")), *columns.titles]
    cells = [
        *title_bar(texts["typing.title"], texts["typing.how"], shown),
        label(2, 0, texts["typing.then"], "below"),
        *(label(_WORDS, column, word, "unseen") for column, word in enumerate(words)),
        *column_headings(titles, _HEADINGS),
    ]
    rules = [_reading_rule(at, title, columns, texts) for at, title in enumerate(columns.titles)]
    kinds = {(form.protocol, form.settings): form for form, _ in forms}
    alike = {
        kind: [_once(name, form, columns, texts) for name in columns.once] for kind, form in kinds.items()
    }
    for at, (form, build) in enumerate(forms):
        first = _HEADINGS + 1 + len(ROUNDS) * at
        cells += _form(first, form, columns, rules, alike[form.protocol, form.settings])
        cells += _hidden(first, form, build, columns, calipers)
    rows = range(_HEADINGS + 1, _HEADINGS + 1 + len(ROUNDS) * len(forms))
    not_open = f"=${column_letters(_ROUND)}{rows[0] + 1}>1"
    once = columns.at[columns.once[0]], columns.at[columns.once[-1]]
    return Tab(
        key,
        title,
        tuple(sorted(cells, key=lambda cell: (cell.row, cell.column))),
        widths=(*_WIDTHS, *[14.5] * len(columns.titles), *[0] * len(_HIDDEN)),
        heights=(*BAR_HEIGHTS, (_WORDS, 0.0), (_HEADINGS, 51.0), *((row, 24.0) for row in rows)),
        emphases=(Emphasis(rows[0], once[0], rows[-1], once[1], not_open, "not_open"),),
        freeze=(_HEADINGS + 1, _FIRST_SITE),
        landscape=True,
        first_entry=(_HEADINGS + 1, _FIRST_SITE),
        repeat=_HEADINGS,
        bare=True,
    )


def _form(
    first: int, form: PaperForm, columns: _Columns, rules: Sequence[Rule], once: Iterable[Cell]
) -> list[Cell]:
    """Three rows; once : what the form asks for in the first alone."""
    code = str(form.identity["copy_code"])
    cells: list[Cell] = []
    for number, row in enumerate(range(first, first + len(ROUNDS)), start=1):
        shape = "site" if number == len(ROUNDS) else "label"
        cells += [label(row, column, form.identity[name], shape) for column, name in enumerate(_CODES)]
        cells.append(label(row, _ROUND, number, shape))
        for at, site in enumerate(form.protocol.sites):
            name = f"{code} {reading_name(number, site.word)}"
            cells.append(Cell(row, _FIRST_SITE + at, "entry", None, name, "", "entry_reading", rules[at]))
    # Empty: as the sheet was handed out. No defined name of the workbook.
    for cell in once:
        cells.append(
            Cell(first, cell.column, "entry", None, f"{code} {cell.name}", "", cell.format, cell.rule)
        )
    return cells


def _once(name: str, form: PaperForm, columns: _Columns, texts: Texts) -> Cell:
    """An entry of the first row of a form, as its sheet has it."""
    column = columns.at[name]
    if name.startswith("own_"):
        return entry(0, column, name, own_rule(texts[f"entry.{name}"], texts), "entry_reading")
    if name.startswith("not_taken_"):
        words = {LEFT_OUT: texts[f"word.{LEFT_OUT}"]}
        return words_entry(0, column, name, texts["rule.left_out_title"], words, texts)
    cell = start_entry(0, column, name, form.protocol, form.settings, texts)
    if cell.rule is not None and cell.rule.kind == "custom":
        # A register too long for a list: looked up when the form is read.
        return entry(0, column, name, text_rule(texts, 40, cell.rule.title, ""), cell.format)
    return cell


def _hidden(first: int, form: PaperForm, build: str, columns: _Columns, calipers: int) -> list[Cell]:
    """Which sheet this is, and what the calipers chosen can show: a rule looks at its own tab."""
    issued = str(form.identity["issued_caliper"])
    caliper = {one.identifier: one for one in form.settings.calipers}[issued]
    known = in_tab(_REGISTER, f"$A$1:$A${calipers}")
    chosen, second = (absolute(first, columns.at[name]) for name in ("caliper_id", "caliper_id_2"))
    numbers: dict[str, tuple[str, Value]] = {"zero": (f"={absolute(first, columns.at['zero_mm'])}", 0)}
    for name, letter in (("division", "B"), ("opening", "C")):
        value = getattr(caliper, name)
        taken = f'MATCH(IF({chosen}="",{quoted(issued)},{chosen}&""),{known},0)'
        looked_up = f"INDEX({in_tab(_REGISTER, f'${letter}$1:${letter}${calipers}')},"
        numbers[name] = f"={looked_up}{taken})", value
        here, again = absolute(first, columns.at[name]), f'MATCH({second}&"",{known},0)'
        numbers[f"{name}_2"] = f'=IF({second}="",{here},{looked_up}{again}))', value
    cells = [label(first, columns.at["build"], build, "unseen")]
    for name, (text, value) in numbers.items():
        column = columns.at[name]
        cells.append(formula(first, column, text, value, "unseen"))
        same = f"={absolute(first, column)}"
        cells += [formula(first + more, column, same, value, "unseen") for more in range(1, len(ROUNDS))]
    return cells


def _reading_rule(at: int, title: str, columns: _Columns, texts: Texts) -> Rule:
    """Above the zero, and a mark on the scale of the caliper of this form, or of its second one; the same for
    every row, as it is for the first."""
    row = _HEADINGS + 2
    cell = f"{column_letters(_FIRST_SITE + at)}{row}"
    shown = {name: f"${column_letters(columns.at[name])}{row}" for name in _HIDDEN}

    def on_scale(which: str) -> str:
        count = f"{cell}/{shown[f'division{which}']}"
        return f"AND({cell}<={shown[f'opening{which}']},ABS({count}-ROUND({count},0))<0.001)"

    test = f"=AND(ISNUMBER({cell}),{cell}>{shown['zero']},OR({on_scale('')},{on_scale('_2')}))"
    return Rule("custom", title[:32], "", texts["typing.reading"], formula=test)


def class_code_typed_in(snapshot: Snapshot) -> str | None:
    """Return the class code of a workbook that paper forms are typed into; None where it is no such."""
    marks = [mark for tab in snapshot.tabs if (mark := _mark_of(tab))]
    return marks[0].removeprefix(_MARK) if marks else None


def _mark_of(tab: TabState) -> str:
    value = tab.value(_WORDS, 0)
    return value if isinstance(value, str) and value.startswith(_MARK) else ""


def typed_forms(snapshot: Snapshot) -> tuple[TypedForm, ...]:
    """Return each form of which something was typed, in the order of the rows."""
    builds: dict[str, str] = {}
    entries: dict[str, dict[str, Value]] = {}
    for tab in snapshot.tabs:
        words = {
            column: word
            for (row, column), state in tab.cells.items()
            if row == _WORDS and isinstance(word := state.value, str) and _mark_of(tab)
        }
        for row, column in sorted(tab.cells):
            value, word = tab.value(row, column), words.get(column, "")
            code, number = tab.value(row, 0), tab.value(row, _ROUND)
            if row <= _HEADINGS or column <= _ROUND or value in (None, "") or not isinstance(code, str):
                continue
            if word == "build":
                builds[code] = str(value)
            elif number in ROUNDS and word not in ("", *_HIDDEN) and ("ROUND" in word or number == 1):
                name = word.replace("ROUND", f"{number:.0f}")
                typed = str(value).upper() if isinstance(value, bool) else value
                entries.setdefault(code, {}).setdefault(name, typed)
    return tuple(TypedForm(code, builds.get(code, ""), typed) for code, typed in entries.items())
