"""The commands."""

import os
import sys
from datetime import datetime
from io import TextIOWrapper
from pathlib import Path
from typing import Any

import click

from sheetgen import __version__
from sheetgen.cli import output
from sheetgen.cli.further import gradebook, protocols, summary
from sheetgen.cli.output import DAY, FOLDER, PATH, counted, say, session_option, tell
from sheetgen.errors import SheetgenError

_SETTINGS = {"help_option_names": ["-h", "--help"], "max_content_width": 110}


class _Group(click.Group):
    """Every fault of ours or of the set-up becomes one clear line and its exit code."""

    def invoke(self, context: click.Context) -> Any:
        try:
            return super().invoke(context)
        except SheetgenError as fault:
            tell(*(f"sheetgen: {line}" for line in str(fault).splitlines()))
            sys.exit(fault.exit_code)

    def resolve_command(self, context: click.Context, arguments: list[str]) -> Any:
        try:
            return super().resolve_command(context, arguments)
        except click.UsageError as fault:
            import difflib

            near = difflib.get_close_matches(arguments[0], self.list_commands(context), n=1)
            way = f"Did you mean '{near[0]}'?" if near else "`sheetgen` alone says the steps."
            raise click.UsageError(f"{fault.message} {way}", context) from fault


_STEPS = """\
sheetgen makes protected skinfold workbooks for a class and reads them back. Five steps:

  1  sheetgen new my-class --roster roster.csv     the class folder; then check my-class/class.xlsx
  2  sheetgen build my-class                       the sheets, in my-class/sheets/session-1
  3  hand them out by hand-out.csv; students measure, type and send them back
  4  sheetgen read my-class downloads              marks, feedback and report, in my-class/results/session-1
  5  sheetgen gradebook my-class export.csv        the marks into your gradebook

A class to look at first: sheetgen demo demo-class. More: sheetgen handbook, sheetgen --help.
"""


@click.group(cls=_Group, context_settings=_SETTINGS, invoke_without_command=True)
@click.version_option(__version__)
@click.pass_context
def main(context: click.Context) -> None:
    """Protected skinfold workbooks for a class: hand them out, read them back, recompute every number.

    \b
    Example:
      sheetgen new my-class --roster roster.csv
      sheetgen build my-class
      sheetgen read my-class downloads/
    """
    for stream in (sys.stdout, sys.stderr):
        # A file name may hold what the terminal's encoding has no sign for.
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    if context.invoked_subcommand is None:
        click.echo(_STEPS, nl=False)


main.add_command(protocols)
main.add_command(gradebook)
main.add_command(summary)
_SESSION = session_option("Which session.")
_VERBOSE = click.option("--verbose", is_flag=True, help="Every finding with its cell and code, every repeat.")


@main.command()
@FOLDER
@click.option(
    "--roster",
    type=PATH,
    help="The people: a CSV or .xlsx list with ids and names, or a OneRoster folder or zip.",
)
@click.option("--school-class", default="", help="Which class of a OneRoster export, by title or id.")
@click.option(
    "--protocol",
    multiple=True,
    help="Measuring protocol: an identifier, or the path of your own .toml file. "
    "Given again: more to choose from. [default: seven-sites]",
)
@click.option(
    "--like",
    type=PATH,
    help="Another class folder: its calipers, settings, marking scheme and own protocols are taken.",
)
@click.option("--language", default="", help="Of all that people read, such as es. [default: en]")
@click.option(
    "--minors",
    type=click.Choice(["none", "some", "all"]),
    default=None,
    help="Who is under 18 where the roster does not say; also of a class that is there. [default: some]",
)
@click.option(
    "--heading",
    "headings",
    multiple=True,
    metavar='"THEIRS=OURS"',
    help='What a heading of the roster stands for, such as "Lamp=student_id".',
)
def new(folder: Path, roster: Path | None, headings: tuple[str, ...], **asked: Any) -> None:
    """Make a class folder with its class book, or bring the roster of one up to date.

    Run again with a newer roster: who joined is added, who left is marked, what you typed stays.

    \b
    Example:
      sheetgen new my-class --roster roster.csv
      sheetgen new my-class --roster newer-roster.csv
      sheetgen new second-section --like my-class --roster second.csv
      sheetgen new my-class --roster list.xlsx --heading "Lamp=student_id"
    """
    from sheetgen.class_folder.folder import ClassFolder
    from sheetgen.commands import new as making

    told: list[str] = []
    school_class, minors = asked.pop("school_class"), asked.pop("minors") or ""
    people = making.RosterFile(roster, school_class, tell, minors, headings, told.append)
    if making.wants_update(folder, people, **asked):
        change = making.update_class(ClassFolder(folder), people)
        output.print_roster_change(change)
        tell(making.under_18_line(ClassFolder(folder), change.book))
        return
    made = making.new_class(folder, people, asked.pop("protocol"), **asked)
    tell(making.under_18_line(made))
    say(*making.understood_lines(made, told))


@main.command()
@FOLDER
@_SESSION
@click.option("--student", default="", help="Only the sheets of this student_id.")
@click.option("--calipers", default="", metavar="A,B", help="A second sheet a pair, to compare two calipers.")
@click.option("--roster-is-right", is_flag=True, help="Whoever no longer counts as under 18 is meant to.")
def build(folder: Path, session: int, student: str, calipers: str, roster_is_right: bool) -> None:
    """Write one sheet for every pair of the class book, and spare ones for people not on the roster.

    \b
    Example:
      sheetgen build my-class --session 1
      sheetgen build my-class --student S07
      sheetgen build my-class --session 2 --calipers C1,C2
    """
    from sheetgen.class_folder.folder import open_class_folder
    from sheetgen.commands.build import build_sheets

    progress = output.progress_line("sheets")
    two = [name.strip() for name in calipers.split(",")] if calipers else []
    summary = build_sheets(open_class_folder(folder), session, student, progress, roster_is_right, two)
    for name in summary.kept:
        tell(
            f"{summary.folder}/{name}: found other bytes than were written; expected the sheet as built. "
            "It was left as it is; move it away to have it built again."
        )
    tell(*summary.notes)
    if stale := summary.stale:
        more = f" and {len(stale) - 3} more" if len(stale) > 3 else ""
        tell(
            f"{summary.folder}: sheets that the class book does not ask for: {', '.join(stale[:3])}"
            f"{more}; expected those of its pairs. Move them out of this folder and do not hand them out; "
            "one that is out can still be read."
        )
    tell(*summary.unpaired)
    click.echo(f"{summary.folder}: {len(summary.written)} written, {len(summary.unchanged)} as they were")
    if summary.spare:
        click.echo(
            f"{summary.folder}/spare: {len(summary.spare)} for people not on the roster. When one is used, "
            "add the person to the tab Roster, and type its copy code beside their pair on the tab Pairs."
        )
    if summary.printed:
        click.echo(f"{summary.folder}: to print: {', '.join(summary.printed)}")
    click.echo("Every sheet prints the cautions. School policy, local law and licensed practice come first.")


@main.command()
@FOLDER
@click.argument("paths", nargs=-1, type=PATH)
@_SESSION
@_VERBOSE
@click.option("--json", "as_json", is_flag=True, help="Files, status and findings as JSON on stdout.")
@click.option("--second-marker", is_flag=True, help="A blind sample for a second marker; then compare.")
def read(folder: Path, paths: tuple[Path, ...], session: int, as_json: bool, **options: bool) -> None:
    """Read what came back and write the results; PATHS are copied into returned/ first.

    \b
    Example:
      sheetgen read my-class downloads/
    """
    from sheetgen.class_folder.folder import open_class_folder
    from sheetgen.commands.read import read_returned
    from sheetgen.returned.pool import OwnProcesses

    opened = open_class_folder(folder)
    with OwnProcesses(os.cpu_count() or 1, tell) as pool:
        second = options["second_marker"]
        summary = read_returned(opened, session, paths, output.progress_line(), "", pool, second)
    tell(*summary.said)
    if options["verbose"]:
        output.print_verbose(summary.attempts, summary.language)
    output.print_notes(summary.notes, summary.language)
    tell(*summary.second, summary.reminder)
    if as_json:
        output.print_attempts_json([(one, summary.language) for one in summary.attempts])
    else:
        output.print_read(summary, folder, session)
    sys.exit(1 if any(attempt.status == "refused" for attempt in summary.attempts) else 0)


@main.command()
@click.argument("files", nargs=-1, required=True, type=PATH)
@click.option("--class", "class_folder", type=PATH, help="The class folder; else searched upward.")
@_VERBOSE
@click.option("--json", "as_json", is_flag=True, help="Findings as JSON on stdout.")
def look(files: tuple[Path, ...], class_folder: Path | None, verbose: bool, as_json: bool) -> None:
    """Say what there is to say of single files, and what to do.

    \b
    Example:
      sheetgen look my-class/returned/session-1/L02_7K3F-9QXM.xlsx
    """
    from sheetgen.commands.look import look_at, reminders, said_of

    looked = look_at(files, class_folder)
    if as_json:
        output.print_attempts_json(looked)
    for attempt, language in looked:
        status, *lines = said_of(attempt, language)
        if not as_json:
            say(f"{attempt.file}: {status}")
        if verbose or not as_json:
            told = output.finding_lines(attempt, language) if verbose else (f"  {line}" for line in lines)
            say(*told, err=True)
    tell(*reminders(files, class_folder))
    worst = any(finding.severity == "error" for attempt, _ in looked for finding in attempt.findings)
    sys.exit(1 if worst else 0)


@main.command()
@click.argument("code", required=False)
def explain(code: str | None) -> None:
    """Say what a finding means and what to do; without CODE, list all codes.

    \b
    Example:
      sheetgen explain sheet-damaged-by-cut
    """
    from sheetgen.class_book.book import class_language
    from sheetgen.class_folder.folder import find_class_folder
    from sheetgen.commands.look import explained
    from sheetgen.texts.findings import load_catalogue

    if code is None:
        say(*(f"{kind.severity:8} {kind.code}" for kind in load_catalogue().values()))
        return
    kind = explained(code, class_language(find_class_folder(Path.cwd())))
    click.echo(f"{kind.code} ({kind.severity})\n{kind.means}\nWhat to do: {kind.remedy}")


@main.command()
@click.argument("topic", required=False)
def handbook(topic: str | None) -> None:
    """Show a page of the handbook; without TOPIC, list the pages by the question each answers.

    \b
    Example:
      sheetgen handbook
      sheetgen handbook privacy
    """
    from sheetgen.commands.handbook import page, topics

    if topic is None:
        say(*(f"{name:18} {question}" for name, question in topics().items()))
        return
    click.echo(page(topic))


@main.command()
@FOLDER
def demo(folder: Path) -> None:
    """Make a whole invented class of 24, from set-up to the report of the third session.

    \b
    Example:
      sheetgen demo demo-class
    """
    from sheetgen.class_folder.folder import ClassFolder
    from sheetgen.commands.demo import run_demo, run_term

    summary = run_demo(folder)
    run_term(ClassFolder(folder))
    click.echo(f"{len(summary.attempts)} files came back: {output.status_line(summary.attempts)}")
    for place, what in (
        ("class.xlsx", "the class book"),
        ("sheets/session-1/", "what was handed out"),
        ("returned/session-1/", "what came back, with a dozen typical faults"),
        ("results/session-1/report.xlsx", "the report"),
        ("results/session-1/feedback", "one page of feedback a student"),
        ("review/session-1.xlsx", "what the teacher decides"),
        ("results/session-1/findings.csv", "every finding"),
        ("results/session-3/report.xlsx", "two sessions later: over time, your own measure, two calipers"),
    ):
        click.echo(f"  {folder / place}: {what}")
    click.echo("Your own class: sheetgen new my-class --roster roster.csv")


@main.command()
@FOLDER
@click.option("--before", type=DAY, required=True, help="Files first read before this day go.")
@click.option("--keep-comments", is_flag=True, help="Comments to students stay; they may hold anything.")
@click.option("--write", is_flag=True, help="Remove them; without it only say what would go.")
def forget(folder: Path, before: datetime, keep_comments: bool, write: bool) -> None:
    """Remove returned files first read before a day, every body value and all free text; marks stay.

    \b
    Example:
      sheetgen forget my-class --before 2027-01-31
      sheetgen forget my-class --before 2027-01-31 --write
    """
    from sheetgen.class_folder.folder import open_class_folder
    from sheetgen.commands.forget import forget_before

    gone = forget_before(open_class_folder(folder), before.date(), write, keep_comments)
    done = "removed" if write else "would remove"
    say(*(f"{done}: {path}" for path in (*gone.returned, *gone.derived)))
    say(*(f"kept: {path}: {reason}" for path, reason in gone.kept))
    say(*(f"left: {path}: {reason}" for path, reason in gone.left))
    returned = counted(len(gone.returned), "returned file", "returned files")
    derived = counted(len(gone.derived), "derived one", "derived ones")
    count = f"{returned}, {derived} and {counted(gone.lines, 'entry', 'entries')} of the journal"
    would = f"{count} would go; nothing was removed. Add --write to do it."
    click.echo(f"{count} removed" if write else would)
    click.echo("Cloud copies, backups and sent mails keep earlier versions: delete them there too.")
