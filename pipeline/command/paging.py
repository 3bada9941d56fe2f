"""Commands that make pages anew and open them."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from pipeline.command.completing import complete_incident, complete_kind, complete_page
from pipeline.command.options import AsJson, Database, Month, Out, Quiet, Site, site_and, site_of
from pipeline.command.terminal import for_mail, print_json
from pipeline.errors import QuestionError
from pipeline.places import REPORTS

Kind = Annotated[
    str,
    typer.Argument(
        help="month, transports, incident or all.",
        metavar="month|transports|incident|all",
        show_default=False,
        autocompletion=complete_kind,
    ),
]
OfIncident = Annotated[
    str, typer.Option("--incident", help="Its id, as pages name it.", autocompletion=complete_incident)
]
AsText = Annotated[bool, typer.Option("--text", help="Print what the page opens with, ready to paste into a mail.")]
Page = Annotated[
    str,
    typer.Argument(
        help="A month, a machine, an incident's id or a page's name; the front page unless named.",
        metavar="[PAGE]",
        show_default=False,
        autocompletion=complete_page,
    ),
]


def report_command(
    kind: Kind,
    site: Site = None,
    *,
    month: Month = "",
    incident: OfIncident = "",
    text: AsText = False,
    out: Out = None,
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Make pages of SITE anew from what the last run left, without loading anything: the same bytes as a run writes.

    A month's page (the last month unless named), the pages on the transports, one incident's page, or all pages.
    """
    from pipeline.report_answers import Wanted, make_report  # noqa: PLC0415

    report = make_report(site_of(site), Wanted(kind, month, incident), out=out, database=database)
    if as_json:
        print_json({"pages": [str(page) for page in report.pages], "opening": report.opening})
        return
    if text and not quiet:
        print(f"{for_mail(report.opening)}\n")
    print(report.pages[0])


def open_command(
    site: Site = None,
    page: Page = "",
    out: Annotated[Path | None, typer.Option("--out", help="Where the pages are; SITE/reports unless named.")] = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Open a page of SITE in the browser: the front page, or that of a month, a machine or an incident.

    Without a display the path is printed instead. BROWSER may name the program that opens pages.
    """
    folder, name = site_and(site, page)
    path = _page(folder, out if out is not None else folder / REPORTS, name)
    is_opened = _open(path)
    if as_json:
        print_json({"page": str(path), "is_opened": is_opened})
        return
    print(path)
    if not is_opened and not quiet:
        print("no display to open it on: the page is at that path", file=sys.stderr)


def _page(site: Path, out: Path, name: str) -> Path:
    from pipeline.render.sheet import slug  # noqa: PLC0415

    if not (out / "index.html").is_file():
        raise QuestionError(f"{out / 'index.html'} does not exist. Run airhours run {site} first.")
    if not name:
        return out / "index.html"
    stem = Path(name).name.removesuffix(".html")
    kinds = (stem, f"month-{stem}", f"incident-{stem}", f"machine-{slug(stem)}", f"reel-{slug(stem)}")
    for path in (out / f"{kind}.html" for kind in kinds):
        if path.is_file():
            return path
    raise QuestionError(
        f'{out} has no page "{name[:60]}". Name a month such as 2031-03, a machine, an incident\'s id, or a page'
        " such as transports."
    )


def _open(path: Path) -> bool:
    """Whether a browser took the page."""
    import webbrowser  # noqa: PLC0415

    return _has_display() and webbrowser.open(path.resolve().as_uri())


def _has_display() -> bool:
    if sys.platform in ("win32", "darwin") or os.environ.get("BROWSER"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
