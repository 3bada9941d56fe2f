"""Workbooks: rows of texts as a sheet shows them."""
