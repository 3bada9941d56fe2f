"""Measurements of airhours itself, kept out of the package: nothing here is needed to run it."""
