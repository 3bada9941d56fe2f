"""Judges the data by the suites: what breaks a rule is kept row by row, and Great Expectations decides."""

from pipeline.check.site import check_site as check_site
