@echo off
rem @title@ of the class folder that this file lies in: run it with a double click.
setlocal DisableDelayedExpansion
chcp 65001 >nul
set "PYTHONUTF8=1"
set "action=@action@"
for %%I in ("%~dp0..") do set "class=%%~fI"
echo @title@: "%class%"

set "session="
if defined SHEETGEN_NO_WAIT (set "session=%SHEETGEN_SESSION%") else (set /p "session=Which session? A number, or Enter for 1: ")
if not defined session set "session=1"
rem Digits only: anything else typed here would be run as part of the lines below.
set "other="
for /f "delims=0123456789 eol=" %%I in ("%session%") do set "other=1"
if defined other set "session=1"

if "%action%"=="open" goto open_report

set "program="
where sheetgen >nul 2>nul && set "program=sheetgen"
if defined program goto run_it
rem The Python that made this folder; on another computer it may not be there.
set "recorded="
if exist "%~dp0python.txt" set /p "recorded=" <"%~dp0python.txt"
if defined recorded "%recorded%" -m sheetgen --version >nul 2>nul && set "program=recorded"
if defined program goto run_it
py -m sheetgen --version >nul 2>nul && set "program=py"
if defined program goto run_it
python -m sheetgen --version >nul 2>nul && set "program=python"
if defined program goto run_it
echo Not done: sheetgen was not found on this computer. Install it, or run this file on the computer that made the folder; "sheetgen new" with a roster, run once here, sets it right.
set "code=2"
goto finish

:run_it
echo Working ...
if "%program%"=="sheetgen" sheetgen %action% "%class%" --session %session%
if "%program%"=="recorded" "%recorded%" -m sheetgen %action% "%class%" --session %session%
if "%program%"=="py" py -m sheetgen %action% "%class%" --session %session%
if "%program%"=="python" python -m sheetgen %action% "%class%" --session %session%
set "code=%errorlevel%"
if "%action%-%code%"=="build-0" echo Done: the sheets are in the folder sheets, session-%session%.
if "%action%-%code%"=="read-0" echo Done: the results are in the folder results, session-%session%.
if "%action%-%code%"=="read-1" echo Done, but some files could not be used: see above; the report names each, with what to do.
if "%code%"=="0" goto finish
if "%action%-%code%"=="read-1" goto finish
echo Not done: the lines above say why and what to do.
goto finish

:open_report
set "code=0"
set "report=%class%\results\session-%session%\report.xlsx"
if exist "%report%" goto report_there
echo Not done: there is no report of session %session% yet. Run "2 read returned" first.
set "code=2"
goto finish
:report_there
start "" "%report%"
echo Done: the report of session %session% is opened.

:finish
if not defined SHEETGEN_NO_WAIT pause
exit /b %code%
