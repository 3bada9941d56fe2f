"""Turn figures and tables into static pages that open from a disk: no server, no network, no script.

The doors open when they are used: one incident's page need not wait for the libraries behind the charts of all others.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.render.pages import RenderResult as RenderResult
    from pipeline.render.pages import render_reports as render_reports


def __getattr__(name: str) -> object:
    if name in ("RenderResult", "render_reports"):
        from pipeline.render import pages  # noqa: PLC0415 - see above

        return getattr(pages, name)
    raise AttributeError(name)
