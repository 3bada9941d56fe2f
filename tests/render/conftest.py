"""The pages of the small room, made once for all tests of the room render."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from pipeline.evidence import open_evidence
from pipeline.measure import measure_site
from pipeline.render import RenderResult, render_reports
from pipeline.render.reading import Reading, read_site
from pipeline.store import Store
from tests.render.small_room import SETTINGS, open_room


@dataclass(frozen=True)
class Rendered:
    store: Store
    figures: dict[str, Any]
    out: Path
    result: RenderResult

    def text(self, name: str) -> str:
        """A page with its no-break spaces as plain ones, so that a test reads like the page."""
        return (self.out / name).read_text(encoding="utf-8").replace("\u00a0", " ")

    @property
    def html(self) -> dict[str, str]:
        return {path.name: path.read_text(encoding="utf-8") for path in self.result.pages}


@pytest.fixture(scope="session")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rendered]:
    out = tmp_path_factory.mktemp("reports")
    with open_room() as store:
        figures = measure_site(store, SETTINGS)
        evidence = open_evidence(store, figures, shows_persons=False)
        yield Rendered(store, figures, out, render_reports(store, SETTINGS, figures, out, evidence=evidence))


@pytest.fixture(scope="session")
def reading(rendered: Rendered) -> Reading:
    return read_site(rendered.store, SETTINGS, rendered.figures)
