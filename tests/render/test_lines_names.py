"""Names of pages of lists: plain on every system and one each, whatever channels and machines are called."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from pipeline.render.lines_names import NO_LINKS, FigureLinks, key_of_group, page_names, scopes_with_pages
from tests.render.made_up_evidence import MadeEvidence, MadeScope

PLAIN = re.compile(r"lines(-[a-z0-9-]+)?\.html")


def test_a_page_is_named_after_what_it_is_of() -> None:
    keys = [("", "", ""), ("2031-03", "", ""), ("", "One", ""), ("", "", "VT 1"), ("2031-03", "One", "")]
    assert list(page_names(keys).values()) == [
        "lines.html", "lines-month-2031-03.html", "lines-channel-one.html", "lines-machine-vt-1.html",
        "lines-month-2031-03-channel-one.html",
    ]  # fmt: skip


def test_names_that_read_alike_have_a_page_each() -> None:
    names = ["a b", "A-B", "a/b", "a-b-2", "../../x", "", "ß", "漢字", "x" * 300, "x" * 301, "CON", "con"]
    keys = [("", name, "") for name in names]
    pages = page_names(keys)
    assert len(set(pages.values())) == len(names)
    assert all(PLAIN.fullmatch(page) and len(page) < 255 for page in pages.values())
    # The third that reads "a-b" cannot be "a-b-2" twice: the fourth is called so and takes the next.
    assert [pages["", name, ""] for name in names[:4]] == [
        "lines-channel-a-b.html", "lines-channel-a-b-2.html", "lines-channel-a-b-3.html", "lines-channel-a-b-2-2.html"
    ]  # fmt: skip


@given(st.lists(st.text(max_size=12), unique=True, max_size=20))
def test_any_names_give_plain_pages_one_each(names: list[str]) -> None:
    keys = [("", "", ""), *(("", name, "") for name in names if name), *(("", "", name) for name in names if name)]
    pages = page_names(keys)
    assert len(set(pages.values())) == len(keys)
    assert all(PLAIN.fullmatch(page) for page in pages.values())


def test_a_figure_is_linked_where_it_has_a_list_and_plain_text_where_not() -> None:
    links = FigureLinks({("2031-03", "", ""): "lines-month-2031-03.html"}, {("2031-03", "", ""): frozenset({"lost_s"})})
    month = {"month": "2031-03"}
    assert links.fig("4 s", "lost_s", month) == '<a class="fig" href="lines-month-2031-03.html#lost_s">4 s</a>'
    assert links.fig("4 s", "lost_s", month=month["month"]) == links.fig("4 s", "lost_s", month)
    assert links.fig("<b>", "air_s", month) == "&lt;b&gt;"
    assert links.fig(0, "lost_s") == "0"
    assert NO_LINKS.fig("4 s", "lost_s", month) == "4 s"


def test_the_text_of_a_link_is_escaped() -> None:
    links = FigureLinks({("", "", ""): "lines.html"}, {("", "", ""): frozenset({"air_s"})})
    assert links.fig('<i a="', "air_s") == '<a class="fig" href="lines.html#air_s">&lt;i a=&#34;</a>'


def test_a_group_of_which_nothing_is_counted_has_no_page() -> None:
    scopes = (MadeScope(), MadeScope(machine="T1"), MadeScope(machine="T9"))
    figures = {
        "months": [], "channels": [], "month_channels": [],
        "machines": [{"machine": "T1", "air_s": 2.0}, {"machine": "T9", "air_s": 0.0, "to_air_s": {"n": 0}}],
    }  # fmt: skip
    found = scopes_with_pages(MadeEvidence(scopes, {}), figures)
    assert list(found) == [("", "", ""), ("", "", "T1")]


def test_an_entry_of_the_figures_names_its_key() -> None:
    assert key_of_group({"month": "2031-03", "channel": "One", "air_s": 1}) == ("2031-03", "One", "")
