@echo off
rem Make the environment, run the demo, and open a sheet and the report: run this file with a double click.
setlocal DisableDelayedExpansion
chcp 65001 >nul
set "PYTHONUTF8=1"
cd /d "%~dp0.." || goto no_folder
rem Started inside the zip this file is alone.
if not exist "samples\demo.py" goto no_folder
set "python="
call py -3 --version >nul 2>nul && set "python=py -3"
if not defined python call python --version >nul 2>nul && set "python=python"
if not defined python goto no_python
echo An invented class is made; the first time this takes some minutes and needs the network.
call %python% samples\demo.py
set "code=%errorlevel%"
if not "%code%"=="0" if not "%code%"=="1" goto not_done
start "" "samples\demo-class\results\session-1\report.xlsx"
for %%I in ("samples\demo-class\returned\session-1\L01_*.xlsx") do start "" "%%I"
echo Done: the report and a filled sheet are opened. All the rest is in the folder samples\demo-class.
goto finish

:no_python
echo Not done: Python was not found on this computer. Install Python 3.11 or newer from python.org, tick "Add to PATH" while it installs, then run this file again.
set "code=2"
goto finish

:no_folder
echo Not done: the folder of this file cannot be opened. Unpack the whole zip into your own files, then run this file there.
set "code=2"
goto finish

:not_done
echo Not done: the lines above say why and what to do.

:finish
if not defined SHEETGEN_NO_WAIT pause
exit /b %code%
