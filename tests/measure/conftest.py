"""Measuring less than all of it, for tests of generated rooms that look at the rest."""

from __future__ import annotations

import pytest

from pipeline.measure import document as measuring


@pytest.fixture
def sums_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sums are measured without what is asked of transports, which takes longest and has none of them."""
    monkeypatch.setattr(measuring, "measure_transports", lambda *_: {})
