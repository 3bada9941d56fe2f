"""Commands that run a site: with the log, the waiting and the paragraph that unattended use needs."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from pipeline import __version__
from pipeline.command.completing import complete_file
from pipeline.command.options import DONE, DOUBTED, REFUSED, AsJson, Database, Out, Quiet, Site, site_and, site_of
from pipeline.command.terminal import for_mail, print_json
from pipeline.errors import BusyError, QuestionError
from pipeline.progress import Narrator
from pipeline.run_log import RunLog
from pipeline.run_summary import summary

if TYPE_CHECKING:
    from pipeline.flow import RunResult

POLL_S = 1.0
STOPPED = "a data check of the stop kind failed: the first page says which, and what it may do to the figures"
Log = Annotated[
    Path | None, typer.Option("--log", help="Append what happens to this file, a line an event, each with its time.")
]
Wait = Annotated[float, typer.Option("--wait", help="Seconds to wait for another run of SITE to end.", min=0)]
FileName = Annotated[
    str,
    typer.Argument(
        help="The file, as airhours loaded names it.",
        metavar="FILE",
        show_default=False,
        autocompletion=complete_file,
    ),
]
Back = Annotated[bool, typer.Option("--back", help="Take the file in again instead.")]
Verify = Annotated[
    bool,
    typer.Option("--verify", help="Read every file and page, also one whose size and time of change are as they were."),
]
Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Manner:
    """How a run is to speak and to wait."""

    quiet: bool
    as_json: bool
    log: Path | None
    wait_s: float


def run_command(
    site: Site = None,
    out: Out = None,
    database: Database = None,
    log: Log = None,
    wait: Wait = 0.0,
    quiet: Quiet = False,
    as_json: AsJson = False,
    verify: Verify = False,
) -> None:
    """Load SITE, check it, measure it and write its pages; safe to repeat.

    Exit status: 0 done; 1 done, but a data check of the stop kind failed; 2 not done, one line says why.
    """
    _run(site_of(site), out, database, Manner(quiet, as_json, log, wait), verify=verify)


def retry_command(
    site: Site = None,
    out: Out = None,
    database: Database = None,
    log: Log = None,
    wait: Wait = 0.0,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Run SITE, and read every file again of which rows were set aside."""
    _run(site_of(site), out, database, Manner(quiet, as_json, log, wait), retry=True)


def upgrade_command(
    site: Site = None,
    out: Out = None,
    database: Database = None,
    log: Log = None,
    wait: Wait = 0.0,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Bring SITE's database to this version, and make figures and pages anew from its rows alone.

    No export is read, so none need be there; nothing is loaded and nothing taken out.
    """
    _run(site_of(site), out, database, Manner(quiet, as_json, log, wait), rows_only=True)


def withdraw_command(
    site: Site = None,
    file: FileName = "",
    *,
    back: Back = False,
    out: Out = None,
    database: Database = None,
    log: Log = None,
    wait: Wait = 0.0,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Take FILE out of SITE's database again, exactly, and run SITE without it.

    The file itself stays where it is. It is left out until it is put back or its bytes change.
    """
    folder, name = site_and(site, file)
    if not name:
        raise QuestionError("Name the file to take out, as airhours loaded names it. See airhours withdraw --help.")
    request = {"put_back": name} if back else {"withdraw": name}
    _run(folder, out, database, Manner(quiet, as_json, log, wait), **request)


def _run(site: Path, out: Path | None, database: Path | None, manner: Manner, **request: Any) -> None:
    log = RunLog(manner.log)
    log.note(f"begins: airhours {__version__}, site {site.absolute()}")
    try:
        result = _told_run(site, out, database, manner, log, request)
    except BaseException as error:
        log.note(f"ends, status {REFUSED}: {error or type(error).__name__}")
        raise
    status = DOUBTED if result.is_stopped else DONE
    told = summary(result.figures, result.failed_checks)
    log.note(f"ends, status {status}: {told}")
    print_json(_result(result, told)) if manner.as_json else print(_text(result, told, quiet=manner.quiet))
    if status:
        print(STOPPED, file=sys.stderr)  # also when quiet: a status that is not 0 has its line
        raise typer.Exit(status)


def _told_run(
    site: Path, out: Path | None, database: Path | None, manner: Manner, log: RunLog, request: dict[str, Any]
) -> RunResult:
    from pipeline.flow import Request, run_site  # noqa: PLC0415 - the libraries behind it cost what --help need not pay

    with Narrator(is_silent=manner.quiet) as narrator:

        def narrate(sentence: str) -> None:
            narrator.say(sentence)
            log.note(sentence)

        def run() -> RunResult:
            asked = Request(**request)
            return run_site(site, out=out, database=database, narrate=narrate, request=asked, progress=narrator.show)

        return _when_free(run, manner.wait_s, narrate)


def _when_free(work: Callable[[], Answer], wait_s: float, narrate: Callable[[str], None]) -> Answer:
    """What ``work`` answers, once no other run is in its way."""
    ends, is_told = time.monotonic() + wait_s, False
    while True:
        try:
            return work()
        except BusyError:
            left = ends - time.monotonic()
            if left <= 0:
                raise
        if not is_told:
            narrate(f"another run is at work; waiting for it for up to {wait_s:g} s")
            is_told = True
        time.sleep(min(left, POLL_S))


def _result(result: RunResult, told: str) -> dict[str, Any]:
    return {
        "index": str(result.index),
        "is_changed": result.is_changed,
        "is_stopped": result.is_stopped,
        "failed_checks": result.failed_checks,
        "as_of": result.figures["as_of"],
        "summary": told,
        "files": [{"file": load.file, "action": load.action, "rows": load.rows} for load in result.load.files],
        "rows": result.figures["rows"],
        "total": result.figures["total"],
    }


def _text(result: RunResult, told: str, *, quiet: bool) -> str:
    if quiet:
        return str(result.index)
    rows = ", ".join(f"{name.replace('_', ' ')} {count}" for name, count in result.figures["rows"].items())
    return f"{for_mail(told)}\n\nrows {rows}\nopen {result.index}"
