"""Judges the data by the suites: what breaks a rule is kept row by row, and Great Expectations decides."""

from pipeline.check.judge import JUDGED_BY as JUDGED_BY
from pipeline.check.site import check_site as check_site
