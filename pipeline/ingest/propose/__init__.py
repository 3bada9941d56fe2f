"""Helps a room to begin: proposes the [[feeds]] table of a file, and lays out a site folder.

Two doors, `propose_table` and `new_site`. Nothing proposed here is ever used unseen: a person pastes it into site.toml.
"""

from pipeline.ingest.propose.proposal import Proposal, propose_table
from pipeline.ingest.propose.site_folder import new_site

__all__ = ["Proposal", "new_site", "propose_table"]
