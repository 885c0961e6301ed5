#!/bin/sh
# Make the environment, run the demo, and open a sheet and the report: run this file with a double click.

finish() {
    # The last line says how it went; the window stays until it was read.
    printf '%s\n' "$2"
    if [ -z "${SHEETGEN_NO_WAIT:-}" ]; then
        printf 'Press Enter to close this window. '
        read -r _ || :
    fi
    exit "$1"
}

cd -- "$(dirname -- "$0")/.." || finish 2 "Not done: the folder of this file cannot be opened. Copy the whole folder into your own files, then run this file there."

python=
for name in python3 python3.14 python3.13 python3.12 python3.11 python; do
    if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
        python=$name
        break
    fi
done
[ -n "$python" ] || finish 2 "Not done: no Python 3.11 or newer was found on this computer. Install it from python.org, then run this file again."

printf 'An invented class is made; the first time this takes some minutes and needs the network.\n'
"$python" samples/demo.py
code=$?
[ "$code" -le 1 ] || finish "$code" "Not done: the lines above say why and what to do."

report=samples/demo-class/results/session-1/report.xlsx
for file in samples/demo-class/returned/session-1/L01_*.xlsx "$report"; do
    open "$file" || finish 2 "Done, but nothing here opens a workbook by itself. Open these files: $report and $file"
done
finish 0 "Done: the report and a filled sheet are opened. All the rest is in the folder samples/demo-class."
