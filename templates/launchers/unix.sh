#!/bin/sh
# @title@ of the class folder that this file lies in: run it with a double click.
action=@action@
opener=@opener@

here=$(CDPATH= cd -- "$(dirname -- "$0")" && pwd -P) || exit 2
class=$(dirname -- "$(dirname -- "$here")")

finish() {
    # The last line says how it went; the window stays until it was read.
    printf '%s\n' "$2"
    if [ -z "${SHEETGEN_NO_WAIT:-}" ]; then
        printf 'Press Enter to close this window. '
        read -r _ || :
    fi
    exit "$1"
}

find_program() {
    if command -v sheetgen >/dev/null 2>&1; then
        program=sheetgen
        return 0
    fi
    # The Python that made this folder; on another computer it may not be there.
    recorded=
    [ -r "$here/../python.txt" ] && IFS= read -r recorded <"$here/../python.txt"
    for python in "$recorded" python3 python; do
        if [ -n "$python" ] && "$python" -m sheetgen --version >/dev/null 2>&1; then
            program=$python
            return 0
        fi
    done
    return 1
}

run() {
    if [ "$program" = sheetgen ]; then
        sheetgen "$@"
    else
        "$program" -m sheetgen "$@"
    fi
}

ask_session() {
    while :; do
        printf 'Which session? A number, or Enter for 1: '
        session= ended=
        read -r session || ended=yes
        session=${session:-1}
        case $session in
            [1-9] | [1-9][0-9]) return ;;
        esac
        printf 'That is no session. Type a number from 1 to 99, such as 2.\n'
        [ -z "$ended" ] || finish 2 "Not done: no session was chosen."
    done
}

printf '%s\n' "@title@: $class"
if [ -z "${SHEETGEN_NO_WAIT:-}" ]; then
    ask_session
else
    session=${SHEETGEN_SESSION:-1}
fi

if [ "$action" = open ]; then
    report=$class/results/session-$session/report.xlsx
    if [ ! -f "$report" ]; then
        finish 2 "Not done: there is no report of session $session yet. Run '2 read returned' first."
    fi
    if ! command -v "$opener" >/dev/null 2>&1; then
        finish 2 "Not done: nothing here opens a workbook by itself. Open this file: $report"
    fi
    "$opener" "$report" || finish 2 "Not done: it could not be opened. Open this file: $report"
    finish 0 "Done: the report of session $session is opened."
fi

if ! find_program; then
    if command -v python3 >/dev/null 2>&1 || command -v python >/dev/null 2>&1; then
        finish 2 "Not done: sheetgen was not found on this computer. Open a terminal in the folder of the program and type: pipx install . Then run this file again."
    fi
    finish 2 "Not done: Python was not found on this computer. Install Python 3.11 or newer from python.org, open a terminal in the folder of the program and type: pipx install . Then run this file again."
fi
printf 'Working ...\n'
run "$action" "$class" --session "$session"
code=$?
case $action-$code in
    build-0) finish 0 "Done: the sheets are in the folder sheets, session-$session." ;;
    read-0) finish 0 "Done: the results are in the folder results, session-$session." ;;
    read-1) finish 1 "Done, but some files could not be used: see above; the report names each, with what to do." ;;
    *) finish "$code" "Not done: the lines above say why and what to do." ;;
esac
