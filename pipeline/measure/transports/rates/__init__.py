"""Rates side by side: each machine against the others and against the work it was given."""
