"""The commands on the gradebook and on measuring protocols."""

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sheetgen.cli.output import DAY, FOLDER, PATH, counted, print_json, say, session_option, tell

if TYPE_CHECKING:
    from sheetgen.gradebook.filling import MarkedGradebook


@click.command()
@FOLDER
@click.argument("file", required=False, type=PATH)
@session_option("Which session's marks.")
@click.option("--key", default="", help="Heading of the column that holds student ids or emails; else found.")
@click.option("--column", default="", help="Heading of the column that takes the marks; #3: the third.")
@click.option("--partial", is_flag=True, help="Also scores of which a part is still to be marked.")
@click.option("--scale", is_flag=True, help="Scores out of what the column itself is out of.")
@click.option("--oneroster", type=PATH, help="Also, or only, a OneRoster zip of results.")
@click.option(
    "--oneroster-version",
    "version",
    type=click.Choice(["1.1", "1.2"]),
    default="1.1",
    show_default=True,
    help="Which version of the standard.",
)
@click.option(
    "--oneroster-ids",
    "ids",
    nargs=3,
    default=("", "", ""),
    metavar="CLASS CATEGORY PERIOD",
    help="What the school's system calls class, category and grading period.",
)
@click.option("--date", "day", type=DAY, help="Day of the scores in the zip; else today.")
@click.option("--write", is_flag=True, help="Write it; without it only say what would change.")
def gradebook(
    folder: Path, file: Path | None, session: int, oneroster: Path | None, write: bool, **asked: Any
) -> None:
    """Put the marks into FILE, a gradebook export as CSV: one column changes, every other byte stays.

    \b
    Example:
      sheetgen gradebook my-class export.csv
      sheetgen gradebook my-class export.csv --column "Skinfold lab" --write
    """
    from sheetgen.class_folder.folder import open_class_folder
    from sheetgen.commands.gradebook import export_oneroster, put_marks
    from sheetgen.gradebook.filling import Wanted
    from sheetgen.gradebook.oneroster_results import ResultsFrame

    if file is None and oneroster is None:
        raise click.UsageError("Name the gradebook export, or --oneroster with the zip to write.")
    opened = open_class_folder(folder)
    if file is not None:
        wanted = Wanted(**{name: asked[name] for name in ("key", "column", "partial", "scale")})
        marked = put_marks(opened, session, file, wanted, write)
        say(*_lines(file, marked, write))
        tell(*(f"{file}: {note}" for note in marked.notes))
    if oneroster is not None:
        day = (asked["day"] or datetime.now()).date()
        how = {"version": asked["version"], "partial": asked["partial"]}
        frame = ResultsFrame("", session, "", day, *asked["ids"], **how)
        exported = export_oneroster(opened, oneroster, frame, write)
        counts = ", ".join(f"{count} {status}" for status, count in exported.counts.items())
        done = "written" if write else "would be written"
        say(f"{oneroster}: {done}, OneRoster {exported.frame.version}: {counts}")
        if not (exported.frame.category_id and exported.frame.period_id):
            tell(
                f"{oneroster}: found no category or grading period; expected those of the school's "
                "system. Give them with --oneroster-ids if it asks for them."
            )
    if not write:
        click.echo("Nothing was written. Add --write to do it.")
    if file is not None and not marked.matched:
        tell(f"{file}: nobody matched. Likely it holds another class, or other ids than the roster has.")
        sys.exit(1)


def _lines(file: Path, marked: "MarkedGradebook", write: bool) -> list[str]:
    overwritten = "overwritten" if write else "would overwrite"
    filled = "filled in" if write else "would fill in"
    lines = [
        f"key column: {marked.key_column} ({marked.key_kind}); score column: {marked.score_column}",
        f"matched: {marked.matched}",
    ]
    for change in marked.changes:
        what = f"{overwritten}: {change.old} -> {change.new}" if change.old else f"{filled}: {change.new}"
        lines.append(f"line {change.line}: {change.student_id}: {what}")
    lines += [f"line {one.line}: {one.student_id}: left as it is ({one.status})" for one in marked.left]
    lines += [f"in the file, not in the marks: line {line}: {who}" for line, who in marked.not_in_marks]
    if marked.not_in_file:
        lines.append(f"in the marks, not in the file: {', '.join(marked.not_in_file)}")
    replaced = sum(bool(change.old) for change in marked.changes)
    lines.append(
        f"{file}: {len(marked.changes) - replaced} filled in, {replaced} overwritten, "
        f"{len(marked.same)} as they were, {len(marked.left)} left, "
        f"{len(marked.not_in_marks)} rows without a mark, {len(marked.not_in_file)} marks without a row"
    )
    return lines


_JSON = click.option("--json", "as_json", is_flag=True, help="The same as JSON on stdout.")


@click.command()
@click.argument("folders", nargs=-1, required=True, type=PATH)
@click.option("--out", type=PATH, help="Also write it into a new file, .csv or .xlsx.")
def summary(folders: tuple[Path, ...], out: Path | None) -> None:
    """Put sections side by side: people, sheets, precision by site, marks by item; no names, no bodies.

    Works after `forget`. Of a site or an item nothing is said where fewer than five people stand behind it.

    \b
    Example:
      sheetgen summary section-a section-b
      sheetgen summary section-a section-b --out department.xlsx
    """
    from sheetgen.class_folder.folder import open_class_folder
    from sheetgen.commands.summary import summary_of, write_summary

    found = summary_of({str(folder): open_class_folder(folder) for folder in folders})
    lines = [["" if cell is None else str(cell) for cell in row] for row in (found.headings, *found.rows)]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    say(*("  ".join(map(str.ljust, line, widths)).rstrip() for line in lines))
    if out:
        write_summary(found, out)
        say(f"{out}: written")


@click.group()
def protocols() -> None:
    """List, show and check measuring protocols.

    \b
    Example:
      sheetgen protocols list
      sheetgen protocols show four-sites
      sheetgen protocols check my-protocol.toml
    """


@protocols.command("list")
@_JSON
def list_protocols(as_json: bool) -> None:
    """List the shipped protocols: sites, and the ages that have an equation.

    \b
    Example:
      sheetgen protocols list
    """
    from sheetgen.commands.protocols import summary_line, summary_values
    from sheetgen.protocols.loading import find_protocol, shipped_protocols

    shipped = [find_protocol(identifier) for identifier in shipped_protocols()]
    if as_json:
        print_json([summary_values(protocol) for protocol in shipped])
        return
    say(*map(summary_line, shipped))


@protocols.command("show")
@click.argument("identifier", metavar="ID")
@_JSON
def show_protocol(identifier: str, as_json: bool) -> None:
    """Show one protocol: sites, every equation with source, sample, error and range, notes.

    ID is the name of a shipped protocol, or the path of a .toml file of your own.

    \b
    Example:
      sheetgen protocols show four-sites
    """
    from sheetgen.commands.protocols import as_values, page_of
    from sheetgen.protocols.loading import find_protocol

    protocol = find_protocol(identifier)
    if as_json:
        print_json(as_values(protocol))
        return
    say(*page_of(protocol))


@protocols.command("check")
@click.argument("file", type=PATH)
@_JSON
def check_protocol(file: Path, as_json: bool) -> None:
    """Name every fault of a protocol file at once: line, what was found, what was expected.

    Exit code 0: no faults; 1: faults; 2: the file cannot be read.

    \b
    Example:
      sheetgen protocols check my-protocol.toml
    """
    from msgspec.structs import asdict

    from sheetgen.protocols.loading import load_protocol, protocol_faults

    faults = protocol_faults(file)
    for fault in faults:
        place = f"{file}:{fault.line}" if fault.line else str(file)
        what = f"{fault.place}: found" if fault.place else "found"
        tell(f"{place}: {what} {fault.found}; expected {fault.expected}")
    if as_json:
        shown = [{"file": str(file), **asdict(fault), "line": fault.line or None} for fault in faults]
        print_json(shown)
    elif faults:
        say(f"{file}: {counted(len(faults), 'fault', 'faults')}")
    else:
        checked = load_protocol(file)
        counts = f"{len(checked.sites)} sites, {len(checked.equations)} equations"
        say(f"{file}: no faults; {checked.identifier}, {counts}")
    sys.exit(1 if faults else 0)
