"""Run the models, one table a file."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.sql_files import read_models
from pipeline.store import Store


def build_models(store: Store, report: Callable[[str], None] | None = None) -> tuple[str, ...]:
    """Make every table of sql/ anew from the raw tables; returns their names in the order built.

    Reads ``raw_*``, ``site_*`` and ``source_files``; writes ``clean_*``, ``core_*`` and ``metric_*`` with the grain
    each file states. Runs inside the caller's transaction, so readers see all of a build or none of it.
    """
    models = read_models()
    for model in models:
        if report is not None:
            report(model.name)
        store.build(model.name, model.sql)
    return tuple(model.name for model in models)
