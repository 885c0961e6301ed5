@echo off
rem @title@ of the class folder that this file lies in: run it with a double click.
setlocal DisableDelayedExpansion
chcp 65001 >nul
set "PYTHONUTF8=1"
set "action=@action@"
for %%I in ("%~dp0..\..") do set "class=%%~fI"
echo @title@: "%class%"

rem A shim is a batch file and needs call, which reads its line twice: so no path stands on such a line.
pushd "%class%" || goto no_class

:ask_session
set "session="
if defined SHEETGEN_NO_WAIT (set "session=%SHEETGEN_SESSION%") else (set /p "session=Which session? A number, or Enter for 1: ")
if not defined session set "session=1"
rem Digits only: anything else typed here would be run as part of the lines below.
set "other="
for /f "delims=0123456789 eol=" %%I in ("%session%") do set "other=1"
if defined other goto no_session
if "%session:~0,1%"=="0" goto no_session
if "%session:~2%"=="" goto session_there
:no_session
echo That is no session. Type a number from 1 to 99, such as 2.
set "code=2"
if defined SHEETGEN_NO_WAIT goto finish
goto ask_session

:session_there
if "%action%"=="open" goto open_report

set "program="
where sheetgen >nul 2>nul && set "program=sheetgen"
if defined program goto run_it
rem The Python that made this folder; on another computer it may not be there.
set "recorded="
if exist "%~dp0..\python.txt" set /p "recorded=" <"%~dp0..\python.txt"
if defined recorded "%recorded%" -m sheetgen --version >nul 2>nul && set "program=recorded"
if defined program goto run_it
call py -m sheetgen --version >nul 2>nul && set "program=py"
if defined program goto run_it
call python -m sheetgen --version >nul 2>nul && set "program=python"
if defined program goto run_it
set "python="
call py --version >nul 2>nul && set "python=1"
call python --version >nul 2>nul && set "python=1"
if defined python echo Not done: sheetgen was not found on this computer. Open a terminal in the folder of the program and type: pipx install . Then run this file again.
if not defined python echo Not done: Python was not found on this computer. Install Python 3.11 or newer from python.org and tick "Add to PATH", open a terminal in the folder of the program and type: pipx install . Then run this file again.
set "code=2"
goto finish

:run_it
echo Working ...
if "%program%"=="sheetgen" call sheetgen %action% . --session %session%
if "%program%"=="recorded" "%recorded%" -m sheetgen %action% . --session %session%
if "%program%"=="py" call py -m sheetgen %action% . --session %session%
if "%program%"=="python" call python -m sheetgen %action% . --session %session%
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
goto finish

:no_class
echo Not done: the folder of the class cannot be opened. Copy it to this computer, then run the file there.
set "code=2"

:finish
if not defined SHEETGEN_NO_WAIT pause
exit /b %code%
