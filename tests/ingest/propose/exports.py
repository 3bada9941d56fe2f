"""Invented exports of different make, each with what its author says every column is; no product is meant.

The labels were written before any proposal was seen, though by the hand that wrote the list of synonyms; ``UNFORESEEN``
therefore holds words that are not in it.
"""

from tests.ingest.propose.event_exports import EVENT_EXPORTS
from tests.ingest.propose.export import NONE, OPEN, Export
from tests.ingest.propose.log_exports import LOG_EXPORTS
from tests.ingest.propose.paper_exports import PAPER_EXPORTS
from tests.ingest.propose.unforeseen_exports import UNFORESEEN

__all__ = ["EXPORTS", "NONE", "OPEN", "UNFORESEEN", "Export"]

EXPORTS = (*EVENT_EXPORTS, *LOG_EXPORTS, *PAPER_EXPORTS)
