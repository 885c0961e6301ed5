"""The command that puts marks into a gradebook."""

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sheetgen.cli.output import one_line

if TYPE_CHECKING:
    from sheetgen.flows.gradebook import OneRosterOut
    from sheetgen.store.gradebook_csv import MarkedGradebook

__all__ = ["gradebook"]


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option(
    "--session", type=click.IntRange(1, 99), default=1, show_default=True, help="Which session's marks."
)
@click.option("--key", default="", help="Heading of the column that holds student ids or emails; else found.")
@click.option("--column", default="", help="Heading of the column that takes the marks; #3: the third.")
@click.option("--partial", is_flag=True, help="Also scores of which a part is still to be marked.")
@click.option(
    "--oneroster", type=click.Path(path_type=Path), help="Also, or only, a OneRoster zip of results."
)
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
@click.option(
    "--date", "day", type=click.DateTime(["%Y-%m-%d"]), help="Day of the scores in the zip; else today."
)
@click.option("--write", is_flag=True, help="Write it; without it only say what would change.")
def gradebook(
    folder: Path,
    file: Path | None,
    session: int,
    key: str,
    column: str,
    partial: bool,
    oneroster: Path | None,
    version: str,
    ids: tuple[str, str, str],
    day: datetime | None,
    write: bool,
) -> None:
    """Put the marks into FILE, a gradebook export as CSV: one column changes, every other byte stays.

    \b
    Example:
      sheetgen gradebook my-class export.csv
      sheetgen gradebook my-class export.csv --column "Skinfold lab" --write
    """
    from sheetgen.flows.gradebook import export_oneroster, put_marks
    from sheetgen.store.class_folder import open_class_folder
    from sheetgen.store.gradebook_columns import Wanted

    if file is None and oneroster is None:
        raise click.UsageError("Name the gradebook export, or --oneroster with the zip to write.")
    opened = open_class_folder(folder)
    if file is not None:
        marked = put_marks(opened, session, file, Wanted(key=key, column=column, partial=partial), write)
        for line in _lines(file, marked, write):
            click.echo(one_line(line))
        for note in marked.notes:
            click.echo(one_line(f"{file}: {note}"), err=True)
    if oneroster is not None:
        on = date.today() if day is None else day.date()
        exported = export_oneroster(opened, session, oneroster, on, ids, version, write)
        click.echo(one_line(_zip_line(oneroster, exported, write)))
        if not (exported.frame.category_id and exported.frame.period_id):
            click.echo(
                one_line(
                    f"{oneroster}: found no category or grading period; expected those of the school's "
                    "system. Give them with --oneroster-ids if it asks for them."
                ),
                err=True,
            )
    if not write:
        click.echo("Nothing was written. Add --write to do it.")


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
    lines += [f"in the marks, not in the file: {student_id}" for student_id in marked.not_in_file]
    replaced = sum(bool(change.old) for change in marked.changes)
    lines.append(
        f"{file}: {len(marked.changes) - replaced} filled in, {replaced} overwritten, "
        f"{len(marked.same)} as they were, {len(marked.left)} left, "
        f"{len(marked.not_in_marks)} rows without a mark, {len(marked.not_in_file)} marks without a row"
    )
    return lines


def _zip_line(target: Path, exported: "OneRosterOut", write: bool) -> str:
    counts = ", ".join(f"{count} {status}" for status, count in exported.counts.items())
    done = "written" if write else "would be written"
    return f"{target}: {done}, OneRoster {exported.frame.version}: {counts}"
