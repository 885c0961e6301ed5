"""What lies below a folder, a file at a time; links and devices are not followed."""

import os
from collections.abc import Iterator
from pathlib import Path

from sheetgen.model.finding import Finding, amount

__all__ = ["file_bytes", "file_finding", "files_below", "link_finding"]


def files_below(root: Path) -> Iterator[tuple[tuple[str, ...], Path | Finding]]:
    """Give the steps from a folder to each file below it, in order of name, with the file or why it is none.

    A folder that cannot be listed, a link and a device are given as findings; a folder that is not there
    holds nothing.
    """
    found: list[tuple[tuple[str, ...], Path | Finding]] = []
    waiting: list[tuple[str, ...]] = [()]
    while waiting:
        steps = waiting.pop()
        folder = root.joinpath(*steps)
        try:
            with os.scandir(folder) as entries:
                listed = list(entries)
        except FileNotFoundError:
            continue
        except OSError as fault:
            closed = Finding("file-unreadable", {"why": str(fault.strerror or fault)}, case="unlisted")
            found.append(((*steps, "") if steps else (".",), closed))
            continue
        for entry in listed:
            inside = (*steps, entry.name)
            if entry.is_symlink():
                found.append((inside, link_finding()))
            elif entry.is_dir(follow_symlinks=False):
                waiting.append(inside)
            elif entry.is_file(follow_symlinks=False):
                found.append((inside, folder / entry.name))
            else:
                found.append((inside, Finding("file-unreadable", case="device")))
    yield from sorted(found, key=lambda one: "/".join(one[0]))


def file_bytes(path: Path, most: int) -> bytes | Finding:
    """Return the bytes of a file, or why it is not read.

    Parameters
    ----------
    most : bytes; a larger file is left unread.
    """
    try:
        size = path.stat().st_size
        if size <= most:
            return path.read_bytes()
    except OSError as fault:
        return file_finding(fault)
    return Finding("file-too-large", {"count": amount(size), "most": amount(most)})


def file_finding(fault: OSError) -> Finding:
    """Return the finding of a file that the system does not let be read."""
    return Finding("file-unreadable", {"why": str(fault.strerror or fault)}, case="closed")


def link_finding() -> Finding:
    """Return the finding of a link that came back in place of a file."""
    return Finding("file-shortcut", case="link")
