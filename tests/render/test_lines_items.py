"""Items of lists: looked up once for all lists, each with its own amount and rows, long texts cut."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import polars as pl

from pipeline.render.lines_items import TEXT_LENGTH, Items, amount_texts
from pipeline.render.words import Local
from tests.render.made_up_evidence import MadeEvidence, MadeScope, stretches

LOCAL = Local(ZoneInfo("Europe/Stockholm"))


class Counting(MadeEvidence):
    """Remembers how many items were looked up."""

    looked_up = 0

    def sources(self, items: pl.DataFrame, most: int | None = None) -> pl.DataFrame:
        self.looked_up += items.height
        rows = super().sources(items, most)
        return rows.with_columns(text=pl.lit("x" * (TEXT_LENGTH + 1)), file=pl.lit(None, dtype=pl.String))


def test_an_item_that_several_lists_share_is_looked_up_once() -> None:
    evidence = Counting((MadeScope(),), {})
    items = Items(evidence, LOCAL)
    many, few = items.note(stretches(5)), items.note(stretches(5).drop("amount_us").with_columns(amount=pl.lit(1)))
    items.look_up()
    assert evidence.looked_up == 5
    assert [amount for amount, _ in items.of(many)] == ["1.500"] * 5
    assert [amount for amount, _ in items.of(few)] == ["1"] * 5
    assert [item for _, item in items.of(many)] == [item for _, item in items.of(few)]
    assert len({item.when for _, item in items.of(many)}) == 5


def test_a_reason_without_a_row_names_none() -> None:
    items = Items(Counting((MadeScope(),), {}), LOCAL)
    listed = items.note(stretches(1))
    items.look_up()
    ((_, item),) = items.of(listed)
    assert item.rows == "<li><b>begins</b>: begins here</li><li><b>ends</b>: ends here</li>"


def test_a_long_text_is_cut_and_escaped() -> None:
    class Long(MadeEvidence):
        def sources(self, items: pl.DataFrame, most: int | None = None) -> pl.DataFrame:
            return super().sources(items, most).with_columns(text=pl.lit("<" * (TEXT_LENGTH + 1)))

    items = Items(Long((MadeScope(),), {}), LOCAL)
    listed = items.note(stretches(1))
    items.look_up()
    ((_, item),) = items.of(listed)
    assert f"(events/a.csv, line 1) <code>{'&lt;' * TEXT_LENGTH}…</code>" in item.rows


def test_nothing_noted_asks_for_nothing() -> None:
    evidence = Counting((MadeScope(),), {})
    Items(evidence, LOCAL).look_up()
    assert evidence.looked_up == evidence.asked == 0


def test_amounts_of_one_list_have_one_number_of_places() -> None:
    frame = pl.DataFrame({"amount_us": [1_500_000, 1]})
    assert amount_texts(frame) == ("1.500000", "0.000001")
    assert amount_texts(pl.DataFrame({"amount": [1234]})) == ("1,234",)
