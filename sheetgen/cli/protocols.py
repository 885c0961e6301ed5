"""The commands on measuring protocols."""

import json
import sys
from dataclasses import asdict
from pathlib import Path

import click

from sheetgen.cli import output

__all__ = ["protocols"]

_JSON = click.option("--json", "as_json", is_flag=True, help="The same as JSON on stdout.")


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
    from sheetgen.flows.protocols import summary_line, summary_values
    from sheetgen.store.protocols import find_protocol, shipped_protocols

    shipped = [find_protocol(identifier) for identifier in shipped_protocols()]
    if as_json:
        click.echo(
            json.dumps([summary_values(protocol) for protocol in shipped], ensure_ascii=False, indent=1)
        )
        return
    for protocol in shipped:
        click.echo(output.one_line(summary_line(protocol)))


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
    from sheetgen.flows.protocols import as_values, page_of
    from sheetgen.store.protocols import find_protocol

    protocol = find_protocol(identifier)
    if as_json:
        click.echo(json.dumps(as_values(protocol), ensure_ascii=False, indent=1))
        return
    for line in page_of(protocol):
        click.echo(output.one_line(line))


@protocols.command("check")
@click.argument("file", type=click.Path(path_type=Path))
@_JSON
def check_protocol(file: Path, as_json: bool) -> None:
    """Name every fault of a protocol file at once: line, what was found, what was expected.

    Exit code 0: no faults; 1: faults; 2: the file cannot be read.

    \b
    Example:
      sheetgen protocols check my-protocol.toml
    """
    from sheetgen.store.protocols import load_protocol, protocol_faults

    faults = protocol_faults(file)
    for fault in faults:
        place = f"{file}:{fault.line}" if fault.line else str(file)
        what = f"{fault.place}: found" if fault.place else "found"
        click.echo(output.one_line(f"{place}: {what} {fault.found}; expected {fault.expected}"), err=True)
    if as_json:
        shown = [{"file": str(file), **asdict(fault), "line": fault.line or None} for fault in faults]
        click.echo(json.dumps(shown, ensure_ascii=False, indent=1))
    elif faults:
        click.echo(output.one_line(f"{file}: {len(faults)} fault{'s' if len(faults) > 1 else ''}"))
    else:
        checked = load_protocol(file)
        counts = f"{len(checked.sites)} sites, {len(checked.equations)} equations"
        click.echo(output.one_line(f"{file}: no faults; {checked.identifier}, {counts}"))
    sys.exit(1 if faults else 0)
