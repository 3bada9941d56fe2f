"""What the shell offers when a person presses the tab key: site folders, and words out of a site's database.

Silent and empty on any error: whoever is typing a line wants no message in the middle of it.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer

from pipeline.places import SETTINGS

INCIDENTS = "select incident from core_incidents order by started_at_utc desc, incident"
MONTHS = "select month from site_months order by month"
CHANNELS = "select distinct channel from clean_bookings where channel is not null order by channel"
MACHINES = """
    select machine from clean_machines
    union select machine from clean_bookings where machine is not null
    union select machine from core_heard_spans
    order by machine
"""
FILES = "select file from source_files order by file"


def complete_site(incomplete: str) -> list[str]:
    """Folders that hold a site.toml, or else folders that may hold such a folder."""
    try:
        folders = list(_folders(incomplete))
    except OSError:
        return []
    sites = [name for name, path in folders if (path / SETTINGS).is_file()]
    return sites or [f"{name}/" for name, _ in folders]


def complete_month(context: typer.Context, incomplete: str) -> list[str]:
    """Months of the site."""
    return _beginning(_asked(context, MONTHS), incomplete)


def complete_channel(context: typer.Context, incomplete: str) -> list[str]:
    """Channels of the site."""
    return _beginning(_asked(context, CHANNELS), incomplete)


def complete_machine(context: typer.Context, incomplete: str) -> list[str]:
    """Machines of the site."""
    return _beginning(_asked(context, MACHINES), incomplete)


def complete_incident(context: typer.Context, incomplete: str) -> list[str]:
    """Ids of the site's incidents, the newest first."""
    return _beginning(_asked(context, INCIDENTS), incomplete)


def complete_file(context: typer.Context, incomplete: str) -> list[str]:
    """Names of the files that are loaded."""
    return _beginning(_asked(context, FILES), incomplete)


def complete_page(context: typer.Context, incomplete: str) -> list[str]:
    """Months, machines and incidents: what a page can be named by."""
    return _beginning([name for sql in (MONTHS, MACHINES, INCIDENTS) for name in _asked(context, sql)], incomplete)


def complete_figure(context: typer.Context, incomplete: str) -> list[str]:
    """Names of the figures of the whole site."""
    try:
        from pipeline.answers import read_figures  # noqa: PLC0415
        from pipeline.outputs import figure_rows  # noqa: PLC0415

        rows = figure_rows(read_figures(*_where(context)))
        names = [row["figure"] for row in rows.iter_rows(named=True) if row["group"] == "total"]
    except Exception:  # whatever it was: see above
        return []
    return _beginning(names, incomplete)


def complete_kind(incomplete: str) -> list[str]:
    """What a report can be of."""
    from pipeline.report_answers import KINDS  # noqa: PLC0415 - the libraries behind it cost what --help need not pay

    return _beginning(sorted(KINDS), incomplete)


def _folders(incomplete: str) -> Iterator[tuple[str, Path]]:
    """Folders that what is typed can become, each as it would stand on the line."""
    before, _, start = incomplete.rpartition("/")
    parent = Path(incomplete[: len(incomplete) - len(start)] or ".").expanduser()
    with os.scandir(parent) as entries:
        names = sorted(entry.name for entry in entries if entry.is_dir())
    lead = f"{before}/" if "/" in incomplete else ""
    for name in names:
        if name.startswith(start) and (start or not name.startswith(".")):
            yield f"{lead}{name}", parent / name


def _asked(context: typer.Context, sql: str) -> list[str]:
    try:
        from pipeline.answers import open_last_run  # noqa: PLC0415

        with open_last_run(*_where(context)) as store:
            return [str(value) for value in store.read(sql).to_series().to_list()]
    except Exception:  # whatever it was: see above
        return []


def _where(context: typer.Context) -> tuple[Path, Path | None]:
    """The site and the database of the line as it stands.

    Behind an option that still lacks its value the parser gives no argument away: then the words are looked through.
    """
    typed: dict[str, Any] = context.params
    site, database = typed.get("site"), typed.get("database")
    words = _words()
    sites = [word for word in words if (Path(word) / SETTINGS).is_file()]
    if database is None and "--database" in words[:-1]:
        database = words[words.index("--database") + 1]
    folder = Path(site) if site is not None and Path(site).is_dir() else Path(*sites[:1])
    return folder, Path(database) if database else None


def _words() -> list[str]:
    """The words of the line, by what the shells hand over."""
    line = os.environ.get("COMP_WORDS") or os.environ.get("_TYPER_COMPLETE_ARGS", "")
    return shlex.split(line)[1:]


def _beginning(names: list[str], incomplete: str) -> list[str]:
    return [name for name in names if name.startswith(incomplete)]
