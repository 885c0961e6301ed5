"""Paper forms that somebody typed into one workbook: each goes on as the sheet it stands for, filled in.

The sheet is the one that was handed out, so that what is said of an entry is what is said of any sheet.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial

import msgspec
from msgspec.structs import replace

from sheetgen.class_folder import keep
from sheetgen.class_folder.files import read_if_there, sha256_of
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.errors import SheetgenError
from sheetgen.finding import Finding, Refusal, typed
from sheetgen.protocols.recalculation import stored_results
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt, as_code_word, named_cells
from sheetgen.returned.incoming import Incoming
from sheetgen.returned.whose import OnRecord
from sheetgen.sheet.reference_tabs import figures_of
from sheetgen.sheet.typing_in import TypedForm, class_code_typed_in, typed_forms
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity, Layout
from sheetgen.workbook.packages import filled
from sheetgen.workbook.read.guard import read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import rendered

_NO_SHEET = "file-not-a-sheet"
Came = tuple[Attempt, Incoming]


def with_typed_forms(
    came: Iterable[Came], known: OnRecord, read: Callable[[Sequence[Incoming]], list[Attempt]]
) -> Iterator[Came]:
    """Give what came back, in place of a workbook that forms were typed into each of its forms.
    came : attempts with their files. read : reads files."""
    for attempt, file in came:
        none = any(finding.code == _NO_SHEET for finding in attempt.findings)
        forms = forms_in(file, known) if none else None
        if forms is None:
            yield attempt, file
        else:
            yield from zip(read(forms), forms, strict=True)


def forms_in(file: Incoming, known: OnRecord) -> tuple[Incoming, ...] | None:
    """Return each form that was typed into a workbook as a file of its own, called as if it lay in a zip of
    that name; None where it is no such workbook, or nothing is on record."""
    data = file.read()
    package = data if isinstance(data, Finding) else read_package_bytes(data, file.label)
    if isinstance(package, Finding | Refusal) or known.folder is None:
        return None
    state = snapshot(package)
    class_code = None if isinstance(state, Refusal) else class_code_typed_in(state)
    if isinstance(state, Refusal) or class_code is None:
        return None
    if known.class_code not in ("", class_code):
        fault = Finding("file-other-class", {"found": typed(class_code), "code": known.class_code})
        return (replace(file, read=lambda: fault),)
    forms = []
    for number, form in enumerate(typed_forms(state), start=1):
        # In the place of a code anything may stand that somebody wrote.
        label = f"{file.label}/{form.copy_code if form.copy_code in known.builds else number}.xlsx"
        forms.append(replace(file, label=label, read=partial(_sheet, form, known, known.folder)))
    return tuple(forms)


def _sheet(form: TypedForm, known: OnRecord, folder: ClassFolder) -> bytes | Finding:
    """The sheet that a form stands for with what was typed in it, the same bytes each time."""
    builds = known.builds.get(form.copy_code, ())
    build = next((one for one in builds if one.file_sha256 == form.build), builds[-1] if builds else None)
    layout = None if build is None else keep.load_layout(folder, build.layout_digest)
    if build is None or layout is None:
        return Finding("identity-unknown-copy", {"code": typed(form.copy_code)})
    places = layout.places()
    entries = {name: value for name, value in form.entries.items() if name in places}
    built_with = msgspec.json.decode(layout.settings_text, type=BuiltWith)
    whole = {
        name: as_code_word(name, entries.get(name, build.identity.get(name, cell.value)))
        for name, (_, cell) in named_cells(layout).items()
        if cell.role == "entry"
    }
    results = stored_results(built_with.protocol, built_with.settings, whole)
    stored = {name: value for name, value in results.items() if name in places}
    try:
        data = _handed_out(folder, build, layout)
    except (SheetgenError, KeyError, ValueError) as fault:
        # Where the sheet is gone, today's style or figures may not be those of its Layout.
        return Finding("file-unreadable", {"kind": type(fault).__name__}, case="contents")
    return filled(data, layout, entries, stored)


def _handed_out(folder: ClassFolder, build: CopyRecord, layout: Layout) -> bytes:
    """The bytes of a sheet as they are on record; made anew where they are gone."""
    for place in (folder.sheets(build.session), folder.spare(build.session)):
        data = read_if_there(place / build.file_name)
        if data is not None and sha256_of(data) == build.file_sha256:
            return data
    style = read_template("style.toml")
    return rendered(layout, Identity(dict(build.identity)), style, figures_of(layout, folder))
