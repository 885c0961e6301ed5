"""The command line by `python -m sheetgen`, where the command itself is not on the search path."""

from sheetgen.cli.job import main

if __name__ == "__main__":
    main(prog_name="sheetgen")
