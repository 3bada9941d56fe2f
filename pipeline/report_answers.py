"""Pages made anew from what the last run left in the database, without loading anything."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline import outputs
from pipeline.answers import figures_of, open_own_run, settings_of
from pipeline.errors import QuestionError
from pipeline.incident_answers import Question, answer_incident
from pipeline.page_opening import page_opening
from pipeline.places import REPORTS
from pipeline.settings import Settings
from pipeline.store import Store

KINDS = ("month", "transports", "incident", "all")


@dataclass(frozen=True)
class Wanted:
    """Which pages: a kind of KINDS; ``month`` of a month's page (the last one unless named), ``incident`` its id."""

    kind: str
    month: str = ""
    incident: str = ""


@dataclass(frozen=True)
class Report:
    """The pages written, the first of them the one to open, and what that one opens with, as text for a mail."""

    pages: tuple[Path, ...]
    opening: str


def make_report(site: Path, wanted: Wanted, *, out: Path | None = None, database: Path | None = None) -> Report:
    """Write the pages that are wanted into ``out`` (``site``/reports unless named), byte for byte as a run writes them.

    Raises:
        QuestionError: there is no such kind of report, month or incident.
        StoreError: there was no run yet, or it was made by another version.
        OutputError: the out folder cannot be written; BusyOutputError: a run is writing there.
    """
    _check(wanted)
    target = out if out is not None else site / REPORTS
    if wanted.kind == "incident":
        answer = answer_incident(site, Question(wanted.incident), out=target, database=database)
        return Report((answer.page,), page_opening(answer.page.read_text(encoding="utf-8")))
    with open_own_run(site, database) as store:
        settings = settings_of(store)
        if wanted.kind == "all":
            return _whole(store, settings, target)
        return _some(store, settings, wanted, target)


def _check(wanted: Wanted) -> None:
    if wanted.kind not in KINDS:
        raise QuestionError(f'There is no report "{wanted.kind}". Expected one of {", ".join(KINDS)}.')
    if wanted.kind == "incident" and not wanted.incident:
        raise QuestionError("Name the incident with --incident: its id, as pages name it.")
    for kind in ("month", "incident"):
        if getattr(wanted, kind) and wanted.kind != kind:
            raise QuestionError(f"--{kind} goes with airhours report {kind}. Leave it out, or ask for that report.")


def _whole(store: Store, settings: Settings, target: Path) -> Report:
    from pipeline.evidence import open_evidence  # noqa: PLC0415 - the libraries behind pages take a second to load
    from pipeline.render import render_reports  # noqa: PLC0415

    figures = figures_of(store)
    evidence = open_evidence(store, figures, shows_persons=settings.show_persons)
    with outputs.out_folder(target):
        rendered = render_reports(store, settings, figures, target, evidence=evidence)
        return Report(rendered.pages, page_opening(rendered.index.read_text(encoding="utf-8")))


def _some(store: Store, settings: Settings, wanted: Wanted, target: Path) -> Report:
    from pipeline.evidence import open_evidence  # noqa: PLC0415 - see _whole
    from pipeline.render.sheet import month_page  # noqa: PLC0415
    from pipeline.render.some_pages import render_some  # noqa: PLC0415
    from pipeline.render.window import add_with_style  # noqa: PLC0415

    figures = figures_of(store)
    name = month_page(_month(figures, wanted.month)) if wanted.kind == "month" else ""
    evidence = open_evidence(store, figures, shows_persons=settings.show_persons)
    pages = render_some(store, settings, figures, wanted.kind, evidence=evidence, name=name)
    with outputs.out_folder(target):
        add_with_style(target, {name: html.encode() for name, html in pages.items()})
    return Report(tuple(target / name for name in pages), page_opening(next(iter(pages.values()))))


def _month(figures: dict[str, Any], typed: str) -> str:
    months = [month["month"] for month in figures["months"]]
    if not months:
        raise QuestionError("There is no month: the bookings hold no air time up to where the data end.")
    if typed and typed not in months:
        raise QuestionError(f'There is no month "{typed[:20]}". The data hold {months[0]} to {months[-1]}.')
    return str(typed or months[-1])
