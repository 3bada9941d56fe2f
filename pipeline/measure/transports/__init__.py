"""What the manager asks of the transports: duty, rates, the year ahead, parts, recordings, care, pairs, and the case.

Each question has a module of its own, with one function that measures it. They are asked in this order, because the
case is made of what the others found.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.measure.transports.care.measuring import measure_care
from pipeline.measure.transports.case.measuring import measure_case
from pipeline.measure.transports.duty import measure_duty
from pipeline.measure.transports.outlook.measuring import measure_outlook
from pipeline.measure.transports.parts.measuring import measure_parts
from pipeline.measure.transports.rates.measuring import measure_rates
from pipeline.measure.transports.recording.measuring import measure_recording
from pipeline.measure.transports.together.measuring import measure_together
from pipeline.settings import Settings
from pipeline.store import Store

SECTIONS = {
    "duty": measure_duty,
    "rates": measure_rates,
    "outlook": measure_outlook,
    "parts": measure_parts,
    "recording": measure_recording,
    "care": measure_care,
    "together": measure_together,
    "case": measure_case,
}


def measure_transports(store: Store, settings: Settings, figures: Mapping[str, Any]) -> dict[str, Any]:
    """The part ``transports`` of figures.json: one entry a section; ``figures`` is all that was measured before.

    A section finds those before it in ``figures["transports"]``. Reads ``core_*``, ``clean_*``, ``metric_*`` and
    ``measure_*``; writes what each section's function says.
    """
    found: dict[str, Any] = {}
    for name, measure in SECTIONS.items():
        found[name] = measure(store, settings, {**figures, "transports": found})
    return found
