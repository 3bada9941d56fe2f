"""One read-only select on a database."""
