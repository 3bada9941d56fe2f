"""Run the models, one table a file: all of them anew, or of the large ones only what new, changed or gone rows touch.

The tables that grow with the record are renewed in part, each as its file says under ``renewed:``. From what was
touched: words and spans of lines, from the first instant on at which a row is new or gone. By machine: what follows
from a machine's words, from the last stop before that instant at which its past is done with. By piece: the pieces of
air time of which anything that they read differs from before. The rest is small and made as a whole. Either way every
table has the rows that making all anew gives.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from pipeline.model import by_machine, by_piece, from_touched
from pipeline.model.marks import set_marks
from pipeline.model.touched import Touched, find_touched
from pipeline.sql_files import Model, read_models
from pipeline.store import Store

BEFORE = "before"  # where what stood is kept while it is renewed


def build_models(store: Store, report: Callable[[str], None] | None = None) -> tuple[str, ...]:
    """Bring every table of sql/ up to date with the raw tables; returns their names in the order built.

    Reads ``raw_*``, ``site_*`` and ``source_files``; writes ``clean_*``, ``core_*`` and ``metric_*`` with the grain
    each file states, and ``built_*``, which say what they were made of. Runs inside the caller's transaction, so
    readers see all of a build or none of it.
    """
    stages = _Stages(read_models())
    told = report or (lambda _: None)
    touched = find_touched(store, stages.all)
    if touched is None:
        _build_anew(store, stages, told)
    else:
        with store.beside(BEFORE):
            _renew(store, stages, touched, told)
    set_marks(store, stages.all)
    return tuple(model.name for model in stages.all)


class _Stages:
    """The models in the order built: what goes by machine after what it reads, then by piece, then the rest."""

    def __init__(self, models: tuple[Model, ...]) -> None:
        self.by_machine = [model for model in models if model.renewed == by_machine.RENEWED]
        self.by_piece = [model for model in models if model.renewed == by_piece.RENEWED]
        others = [model for model in models if model not in self.by_machine and model not in self.by_piece]
        after_machines = _dependent(models, self.by_machine)
        after_pieces = _dependent(models, self.by_piece)
        self.first = [model for model in others if model.name not in after_machines | after_pieces]
        self.second = [model for model in others if model.name in after_machines - after_pieces]
        self.last = [model for model in others if model.name in after_pieces]
        self.all = (*self.first, *self.by_machine, *self.second, *self.by_piece, *self.last)


def _dependent(models: Iterable[Model], on: Iterable[Model]) -> set[str]:
    """Names of the models that read, directly or through others, one of ``on``."""
    roots = {model.name for model in on}
    found: set[str] = set()
    for model in models:  # each comes after those it reads
        if (roots | found) & set(model.reads):
            found.add(model.name)
    return found


def _build_anew(store: Store, stages: _Stages, told: Callable[[str], None]) -> None:
    _build(store, (*stages.first, *stages.by_machine, *stages.second), told)
    by_piece.build(store, stages.by_piece, told)
    _build(store, stages.last, told)


def _renew(store: Store, stages: _Stages, touched: Touched, told: Callable[[str], None]) -> None:
    by_piece.keep_before(store, BEFORE)
    for model in stages.first:
        if model.renewed:
            told(model.name)
            from_touched.renew(store, model, touched)
        else:
            _build(store, [model], told)
    by_machine.renew(store, stages.by_machine, touched, told, before=BEFORE)
    _build(store, stages.second, told)
    by_piece.renew(store, stages.by_piece, told, before=BEFORE)
    _build(store, stages.last, told)


def _build(store: Store, models: Iterable[Model], told: Callable[[str], None]) -> None:
    for model in models:
        told(model.name)
        store.build(model.name, model.sql, is_view=model.is_view)
