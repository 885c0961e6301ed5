"""The command line: parse, call one function, print, exit."""

from sheetgen.cli.job import main

__all__ = ["main"]
