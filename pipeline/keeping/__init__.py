"""Storage that lasts: one file that brings a site back, and the disk space of deleted rows given back.

Each holds the database alone while it works, writes beside what is there, and puts what it wrote in its place in one
move: a process that is killed leaves the old or the new, and what it left lying about goes with the next one.
"""

from __future__ import annotations

from pipeline.keeping.archiving import Archived, archive, take_back
from pipeline.keeping.backing_up import BackedUp, back_up
from pipeline.keeping.compacting import Compacted, compact
from pipeline.keeping.restoring import Restored, restore

__all__ = ["Archived", "BackedUp", "Compacted", "Restored", "archive", "back_up", "compact", "restore", "take_back"]
