"""A whole run told stage by stage; `python -m bench.speed.jobs.airhours_stages SITE DATABASE OUT` prints JSON.

The functions of the run are wrapped from outside, so that nothing in them is there for our sake. The seconds of a stage
hold those of the stages that are named under it.
"""

import importlib
import json
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.flow import run_site
from pipeline.store import Store

# Stage, its parent ("" for the run itself), module and name as the run looks it up.
STAGES = (
    ("load", "", "pipeline.flow", "load_site"),
    ("clocks", "load", "pipeline.ingest.site", "write_clock_tables"),
    ("models", "", "pipeline.model", "build_models"),
    ("measure", "", "pipeline.measure", "measure_site"),
    ("check", "", "pipeline.check", "check_site"),
    ("evidence", "", "pipeline.evidence", "open_evidence"),
    ("pages", "", "pipeline.render", "render_reports"),
    ("data files", "", "pipeline.outputs", "write_data"),
)
SLOWEST = 12  # models that are told of one by one


@dataclass
class Watch:
    """Wall and CPU seconds by stage, added up where a stage comes more than once."""

    wall_s: dict[str, float] = field(default_factory=dict)
    cpu_s: dict[str, float] = field(default_factory=dict)

    def watched(self, stage: str, work: Callable[..., Any]) -> Callable[..., Any]:
        """``work``, with what it takes counted under ``stage``."""

        def timed(*arguments: Any, **named: Any) -> Any:
            wall, cpu = time.perf_counter(), time.process_time()
            try:
                return work(*arguments, **named)
            finally:
                self.add(stage, time.perf_counter() - wall, time.process_time() - cpu)

        return timed

    def add(self, stage: str, wall_s: float, cpu_s: float) -> None:
        self.wall_s[stage] = self.wall_s.get(stage, 0.0) + wall_s
        self.cpu_s[stage] = self.cpu_s.get(stage, 0.0) + cpu_s


def main() -> None:
    site, database, out = map(Path, sys.argv[1:4])
    watch, models = Watch(), Watch()
    wrap_stages(watch)
    _wrap_models(models)
    whole = watch.watched("whole run", run_site)
    whole(site, out=out, database=database, narrate=lambda _: None)
    print(json.dumps(tell_stages(watch, models)))


def wrap_stages(watch: Watch) -> None:
    """Put a watch on every stage.

    Raises:
        AttributeError: a stage is no longer where the run looks it up.
    """
    for stage, _, module_name, name in STAGES:
        module = importlib.import_module(module_name)
        setattr(module, name, watch.watched(stage, getattr(module, name)))


def _wrap_models(watch: Watch) -> None:
    build: Callable[..., None] = Store.build

    def timed(store: Store, table: str, *select: Any, **how: Any) -> None:
        watch.watched(table, build)(store, table, *select, **how)

    Store.build = timed  # type: ignore[method-assign, assignment]


def tell_stages(watch: Watch, models: Watch) -> list[dict[str, Any]]:
    """The stages in the order of the run, under the models the slowest of them, and what no stage accounts for."""
    rows = [_row("whole run", "", watch)]
    for stage, parent, _, _ in STAGES:
        if stage in watch.wall_s:
            rows.append(_row(stage, parent, watch))
        if stage == "models":
            slowest = sorted(models.wall_s, key=lambda name: -models.wall_s[name])[:SLOWEST]
            rows += [_row(name, "models", models) for name in slowest]
    named = [row for row in rows[1:] if not row["within"]]
    rest = {key: rows[0][key] - sum(row[key] for row in named) for key in ("wall_s", "cpu_s")}
    return [*rows, {"stage": "all else", "within": "", **{key: round(value, 3) for key, value in rest.items()}}]


def _row(stage: str, parent: str, watch: Watch) -> dict[str, Any]:
    return {
        "stage": stage,
        "within": parent,
        "wall_s": round(watch.wall_s[stage], 3),
        "cpu_s": round(watch.cpu_s[stage], 3),
    }


if __name__ == "__main__":
    main()
