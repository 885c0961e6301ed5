"""Draw every tab of a filled sheet as a window of 1366 x 768 shows it: `python samples/draw_windows.py`.

A folder may be named for the pictures; else they go into samples/pictures.
Needs the test spreadsheet program, a virtual screen (Xvfb), xdotool, and ImageMagick's import: on Debian
`apt-get install xvfb xdotool imagemagick`.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import openpyxl
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from samples.draw_pictures import GREYS_AND_COLOURS, STUDENT
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.demo import run_demo

PICTURES = Path(__file__).resolve().parent / "pictures"
SCREEN = ":78"
SIZE = (1366, 768)


def main(arguments: list[str]) -> int:
    """Command line: [FOLDER]."""
    target = Path(arguments[0]) if arguments else PICTURES
    target.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as work:
        folder = ClassFolder(Path(work) / "evening school")
        run_demo(folder.root)
        (sheet,) = folder.returned(1).glob(f"{STUDENT}_*.xlsx")
        book = openpyxl.load_workbook(sheet, read_only=True)
        tabs = [tab.title for tab in book.worksheets if tab.sheet_state == "visible"]
        for tab, picture in zip(tabs, windows(sheet, len(tabs), Path(work)), strict=True):
            path = target / f"window-{tab.lower()}.png"
            picture.quantize(GREYS_AND_COLOURS).save(path, optimize=True)
            print(path)
    return 0


def windows(sheet: Path, tabs: int, work: Path) -> list[Image.Image]:
    """Return what a window shows of each tab, from the first on."""
    if not all(map(shutil.which, ("soffice", "Xvfb", "xdotool", "import"))):
        raise SystemExit(__doc__)
    environment = {**os.environ, "DISPLAY": SCREEN}

    def call(*command: str) -> str:
        return subprocess.run(
            command, env=environment, capture_output=True, text=True, check=False
        ).stdout.strip()

    screen = subprocess.Popen(["Xvfb", SCREEN, "-screen", "0", "{}x{}x24".format(*SIZE)])
    profile = f"-env:UserInstallation={(work / 'profile').as_uri()}"
    office = subprocess.Popen(
        ["soffice", profile, "--norestore", "--nologo", "--calc", str(sheet)], env=environment
    )
    try:
        window = ""
        for _ in range(120):
            time.sleep(1)
            window = call("xdotool", "search", "--onlyvisible", "--name", sheet.stem).partition("\n")[0]
            if window:
                break
        time.sleep(8)
        call("xdotool", "windowsize", window, *map(str, SIZE))
        call("xdotool", "windowmove", window, "0", "0")
        call("xdotool", "windowfocus", window)
        time.sleep(3)
        call("xdotool", "key", "Escape")
        for _ in range(tabs):
            call("xdotool", "key", "ctrl+Prior")
            time.sleep(0.5)
        pictures = []
        for number in range(tabs):
            time.sleep(3)
            path = work / f"window-{number}.png"
            call("import", "-window", "root", str(path))
            with Image.open(path) as picture:
                pictures.append(picture.convert("RGB"))
            call("xdotool", "key", "ctrl+Next")
        return pictures
    finally:
        office.terminate()
        subprocess.run(["pkill", "-f", str(work / "profile")], check=False)
        screen.terminate()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
