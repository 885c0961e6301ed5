"""The command line: parse, call one function, print, exit."""

from sheetgen.cli.commands import main

__all__ = ["main"]
