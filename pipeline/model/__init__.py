"""Build every table of sql/ in the order in which they read each other."""

from pipeline.model.build import build_models as build_models
from pipeline.model.marks import forget_marks as forget_marks
