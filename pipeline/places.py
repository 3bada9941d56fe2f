"""Where a site keeps what a run leaves, unless a place is named."""

from __future__ import annotations

DATABASE = "airhours.duckdb"
REPORTS = "reports"
SETTINGS = "site.toml"
