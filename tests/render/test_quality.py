"""The data-quality page: people struck out, stop checks told first, every row accounted for."""

from __future__ import annotations

from pipeline.render.quality import NOT_SHOWN, STRUCK, anchor, shown_text
from tests.render.conftest import Rendered
from tests.render.small_room import PERSON


def test_people_are_struck_out_as_whole_cells() -> None:
    row = {"feed": "switches", "text": "31/02,take,One,T1,T2,fault,Someone New"}
    assert shown_text(row, ()) == f"31/02,take,One,T1,T2,fault,{STRUCK}"
    # A word that is somebody's name elsewhere is struck as a cell and left inside a sentence.
    ticket = {"feed": "tickets", "text": 'K-1,T1,x,,,"control track weak",,,,,,,control,extra'}
    assert shown_text(ticket, ("control",)) == f'K-1,T1,x,,,"control track weak",,,,,,,{STRUCK},extra'
    ruling = {"feed": "rulings", "text": "R7,rain,One,x,,,Someone New,,No such word"}
    assert shown_text(ruling, ()) == f"R7,rain,One,x,,,{STRUCK},,No such word"
    line = {"feed": "switches", "text": '{"at": "x", "by": "Someone New"}'}
    assert shown_text(line, ("Someone New",)) == f'{{"at": "x", "by": "{STRUCK}"}}'
    assert shown_text({"feed": "events", "text": "a,b,c,d,e,f,g"}, ("c",)) == "a,b,c,d,e,f,g"


def test_rows_in_a_rooms_own_columns_are_not_shown_where_they_may_name_people() -> None:
    row = {"feed": "switches", "text": "Someone New;31/02", "is_mapped": True}
    assert shown_text(row, ()) == NOT_SHOWN
    assert shown_text({**row, "feed": "events"}, ()) == row["text"]


def test_long_text_is_cut() -> None:
    assert len(shown_text({"feed": "events", "text": "x" * 5000}, ())) == 401


def test_anchor_is_a_plain_name() -> None:
    assert anchor("Takes <fit>!") == "takes-fit"


def test_the_page_accounts_for_every_file_and_masks_people(rendered: Rendered) -> None:
    page = rendered.text("data-quality.html")
    rows = rendered.figures["rows"]
    assert rows["read"] == rows["kept"] + rows["repeats"] + rows["set_aside"]
    assert f"{rows['read']} read = {rows['kept']}" in page
    assert PERSON not in page
    assert STRUCK in page
    assert page.index("every row ends in one place") < page.index("a booking has one id")


def test_a_failed_stop_is_the_first_thing_on_the_front_page(rendered: Rendered) -> None:
    front = rendered.text("index.html")
    body = front[front.index("<h1>") :]
    notice = body.index("1 data check of the kind stop failed")
    assert notice < body.index("<h2")
    assert 'href="data-quality.html#check-files-whole"' in body
    assert all("of the kind stop failed" in html for html in rendered.html.values())
