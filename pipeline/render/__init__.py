"""Turn figures and tables into static pages that open from a disk: no server, no network, no script."""

from pipeline.render.pages import RenderResult as RenderResult
from pipeline.render.pages import render_reports as render_reports
