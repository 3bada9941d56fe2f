"""The rooms in their order. Start here: load, model, check, measure, render; then write what the run is to leave.

Everything that touches the database happens in one transaction, so a run that is stopped leaves the state before it.
A run whose inputs, program and pages are what they were leaves everything as it is.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline import outputs
from pipeline.archived_parts import require_whole
from pipeline.digests import digest
from pipeline.errors import FeedError
from pipeline.ingest import (
    Progress,
    archived_files,
    keep_rows,
    load_site,
    put_back,
    refuse_new_zone,
    with_rows_set_aside,
    withdraw,
)
from pipeline.page_times import NONE, read_notes, write_notes
from pipeline.places import DATABASE, REPORTS
from pipeline.results import LoadResult
from pipeline.settings import Settings, read_settings
from pipeline.store import Store
from pipeline.upgrade.bringing_up import bring_up
from pipeline.upgrade.versions import state_version

FRESH = ("loaded", "changed", "grown", "read again")
LEFT = ("gone", "withdrawn")
TOLD = {
    "changed": "changed since it was loaded, so that all its rows are superseded",
    "grown": "grown, so that only what was appended is read",
    "read again": "read again",
    "gone": "no longer in the folder, so that its rows are taken out",
    "withdrawn": "withdrawn, so that its rows are taken out",
}
NAMED = 5  # files named in one sentence
Narrate = Callable[[str], None]


@dataclass(frozen=True)
class Request:
    """What a run is asked to do beside taking in what is new: names of files as the ledger has them, or empty.

    With ``rows_only`` nothing is taken in and nothing out: figures and pages are made anew from the rows there are.
    With ``verify`` every file and page is read, also one whose size and time are as they were.
    """

    retry: bool = False
    withdraw: str = ""
    put_back: str = ""
    rows_only: bool = False
    verify: bool = False


@dataclass(frozen=True)
class RunResult:
    """What a run left: the page to open, whether a *stop* check failed, whether anything was new.

    ``failed_checks`` counts the data checks that did not pass, by severity.
    """

    index: Path
    is_stopped: bool
    is_changed: bool
    load: LoadResult
    figures: dict[str, Any]
    failed_checks: dict[str, int]


def run_site(
    site: Path,
    *,
    out: Path | None = None,
    database: Path | None = None,
    narrate: Narrate,
    request: Request = Request(),
    progress: Progress | None = None,
) -> RunResult:
    """Load, check, measure and render the site folder ``site``.

    Writes the database (``site``/airhours.duckdb unless named) and the reports (``site``/reports unless named). A
    second run on unchanged files changes no byte of either.

    Raises:
        AirhoursError: bad settings, feeds, database or out folder; nothing is half-written then.
    """
    settings = read_settings(site)
    target = out if out is not None else site / REPORTS
    path = database if database is not None else site / DATABASE
    with outputs.out_folder(target), Store(path) as store:
        with store.transaction():
            require_whole(store, is_thorough=True)
            notes = bring_up(store)
            load = _take_in(site, settings, store, request=request, progress=progress)
            state_version(store)
            for sentence in (*notes, *_loaded(load)):
                narrate(sentence)
            seal = outputs.program_seal()
            is_known = (
                not load.is_changed and store.has("run_seal") and store.value("select seal from run_seal") == seal
            )
            looks = NONE if request.verify else read_notes(store)
            if is_known and outputs.is_intact(target, _seal_of_site(store, seal), looks):
                return _as_before(store, target, load, narrate)
            if not is_known:
                narrate("building the models, checking, measuring")
                figures, is_stopped = _work(store, settings, seal)
            else:
                figures, is_stopped = _remembered(store)
        store.hold_less()
        narrate(f"writing the pages to {target}")
        index = _publish(store, settings, figures, target, seal)
        failed = _failed_checks(store)
    return RunResult(index, is_stopped, True, load, figures, failed)


def _take_in(
    site: Path, settings: Settings, store: Store, *, request: Request, progress: Progress | None
) -> LoadResult:
    refuse_new_zone(store, site, settings)
    if request.rows_only:
        return keep_rows(settings, store)
    return load_site(
        site, settings, store, again=_prepare(store, site, request), verify=request.verify, progress=progress
    )


def _work(store: Store, settings: Settings, seal: str) -> tuple[dict[str, Any], bool]:
    # Imported where they are needed: a run with nothing new does not pay for their libraries.
    from pipeline.beside import beside  # noqa: PLC0415
    from pipeline.check import JUDGED_BY, check_site  # noqa: PLC0415
    from pipeline.measure import measure_site  # noqa: PLC0415

    with beside(JUDGED_BY) as ask, _models_built(store, settings) as selects:
        figures = measure_site(store, settings)
        checked = check_site(store, selects(), ask)  # after measuring: that a ruling fits nothing is known only then
    store.run("create or replace table run_seal (seal varchar, is_stopped boolean, figures varchar)")
    store.run("insert into run_seal values (?, ?, '{}')", [seal, checked.is_stopped])
    _remember(store, figures)
    return figures, checked.is_stopped


@contextmanager
def _models_built(store: Store, settings: Settings) -> Iterator[Callable[[], Mapping[str, str]]]:
    """Every table of sql/, made by the engine that the site names; gives where that one found what checks look for."""
    from pipeline.model import build_models, forget_marks  # noqa: PLC0415 - see _work

    if settings.engine == "spark":
        from pipeline.spark import open_engine  # noqa: PLC0415 - see _work

        forget_marks(store)  # what this engine makes is not what the other one has noted
        with open_engine(store, settings) as engine:
            engine.build_models(store)
            yield lambda: engine.find_rows(store)
    else:
        build_models(store)
        yield dict


def _remember(store: Store, figures: dict[str, Any]) -> None:
    text = json.dumps(figures, allow_nan=False)
    if store.value("select figures from run_seal") != text:
        store.run("update run_seal set figures = ?", [text])


def _remembered(store: Store) -> tuple[dict[str, Any], bool]:
    row = store.read("select figures, is_stopped from run_seal").row(0, named=True)
    figures: dict[str, Any] = json.loads(row["figures"])
    return figures, bool(row["is_stopped"])


def _as_before(store: Store, target: Path, load: LoadResult, narrate: Narrate) -> RunResult:
    narrate("nothing new: the database and the pages stay as they are")
    figures, is_stopped = _remembered(store)
    return RunResult(target / "index.html", is_stopped, False, load, figures, _failed_checks(store))


def _failed_checks(store: Store) -> dict[str, int]:
    found = store.read("select severity, count(*) from check_results where not is_passed group by all order by all")
    return dict(found.rows())


def _publish(store: Store, settings: Settings, figures: dict[str, Any], target: Path, seal: str) -> Path:
    from pipeline.evidence import open_evidence  # noqa: PLC0415 - see _work
    from pipeline.render import render_reports  # noqa: PLC0415

    try:
        evidence = open_evidence(store, figures, shows_persons=settings.show_persons)
        earlier = outputs.read_manifest(target)
        rendered = render_reports(store, settings, figures, target, evidence=evidence, earlier=earlier, seal=seal)
        # What the pages compare is part of the figures, so that figures.json holds every figure shown.
        figures["comparisons"] = rendered.comparisons
        _remember(store, figures)
        outputs.write_data(store, figures, target)
    except OSError as error:
        raise outputs.not_writable(target, error) from None
    write_notes(store, outputs.write_manifest(target, _seal_of_site(store, seal), rendered.pieces))
    return rendered.index


def _seal_of_site(store: Store, seal: str) -> str:
    """One word for what the pages were made of: the program and every file's bytes and settings."""
    files = store.read("select file, sha256 from source_files order by file").rows()
    settings = store.read("select * from site_settings").rows()
    return digest(repr((seal, files, settings)))


def _prepare(store: Store, site: Path, request: Request) -> frozenset[str]:
    """Note what is to be taken out or put back; returns the files to read again."""
    if request.withdraw in archived_files(store) and not (site / request.withdraw).exists():
        raise FeedError(
            f'"{request.withdraw}" is archived and no longer in the folder, so that it could not be put back. Put its'
            " export there first."
        )
    if request.withdraw and not withdraw(store, request.withdraw):
        raise FeedError(f'"{request.withdraw}" is not loaded. See airhours loaded {site} for the names.')
    if request.put_back and not put_back(store, request.put_back):
        raise FeedError(f'"{request.put_back}" was not withdrawn. See airhours loaded {site} for the names.')
    return with_rows_set_aside(store) if request.retry else frozenset()


def _loaded(load: LoadResult) -> Iterator[str]:
    """What the load did, in sentences: counts first, then every file that is not simply new."""
    news = [file for file in load.files if file.action in FRESH]
    rows = sum(file.rows for file in news)
    gone = sum(file.action in LEFT for file in load.files)
    yield f"{len(news)} files new or changed ({rows} rows), {gone} gone, of {len(load.files)}"
    for action, words in TOLD.items():
        files = [file for file in load.files if file.action == action]
        if files:
            names = ", ".join(f"{file.file} ({file.rows} rows)" for file in files[:NAMED])
            more = f" and {len(files) - NAMED} more" if len(files) > NAMED else ""
            yield f"{words}: {names}{more}"
    yield from load.notes
