"""From a figure back to the lines that prove it: what it is added up from, and the source rows of every edge."""

from pipeline.evidence.evidence import Evidence, open_evidence
from pipeline.evidence.scope import Lines
from pipeline.results import Scope

__all__ = ["Evidence", "Lines", "Scope", "open_evidence"]
