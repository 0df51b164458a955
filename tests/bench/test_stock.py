"""The shelf: what is left, what is missing for a class, and which jar a lot went into."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from labkit.bench import Bench
from labkit.errors import LabkitError, RecordError
from labkit.formula import Formula
from labkit.materials import Materials

MATS = Materials.starter()
DAY = date(2026, 3, 2)
GEL = Formula.parse(
    "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5\nA,Xanthan Gum,0.5\nB,Citric Acid,0.1",
    name="gel",
)


def test_what_was_weighed_leaves_the_shelf_and_taking_back_puts_it_there(bench: Bench) -> None:
    stock = bench.stock(MATS)
    lot = stock.receive("glycerin", "500 g", lot="G-17", received=DAY, expiry="2027-03-01")
    batch = bench.start_batch(bench.record(GEL), "250 g")
    first = batch.weigh("Glycerin", "12.5 g", lot=lot)
    batch.weigh("Glycerin", "0.5 g", lot=lot)
    assert stock.remaining(lot) == Decimal("487")
    assert batch.table().lots.tolist()[1] == "G-17"
    batch.undo(first, "wrong lot")
    assert stock.remaining(lot) == Decimal("499.5")
    stock.count(lot, "480 g", note="spilt")
    batch.weigh("Glycerin", "10 g", lot=lot)
    assert stock.remaining(lot) == Decimal("470")


def test_the_lot_that_expires_first_is_taken_first_and_an_expired_one_never(bench: Bench) -> None:
    stock = bench.stock(MATS)
    stock.receive("Glycerin", "500 g", lot="new", expiry="2028-01-01")
    stock.receive("Glycerin", "500 g", lot="old", expiry="2026-02-01")
    stock.receive("glycerine", "500 g", lot="soon", expiry="2026-06-01")
    stock.receive("Xanthan Gum", "0 g", lot="empty")
    chosen = stock.lots_for(GEL, DAY)
    assert {name: lot.lot for name, lot in chosen.items()} == {"Glycerin": "soon"}
    frame = stock.lots(DAY)
    assert frame.lot.tolist()[0] == "old"
    assert frame.expired.tolist()[0]


def test_opening_a_lot_is_written_down(bench: Bench) -> None:
    stock = bench.stock()
    lot = stock.open_lot(stock.receive("Urea", "1 kg", lot="U-1"), "2026-03-02")
    assert lot.opened == DAY
    assert bench.verify().ok


def test_twenty_four_groups_with_ten_per_cent_spare(bench: Bench) -> None:
    stock = bench.stock(MATS)
    stock.receive("Glycerin", "100 g")
    stock.receive("Citric acid", "500 g")
    shopping = stock.shopping_list(GEL, "100 g", groups=24, spare="10 %", day=DAY)
    wanted = dict(zip(shopping.material, shopping.buy_g, strict=True))
    # 24 x 100 g x 1.10 = 2640 g: glycerin 132 g less the 100 g there
    assert wanted == {"Aqua": 2493, "Glycerin": 32, "Xanthan Gum": 14}
    needs = stock.needs(GEL, "100 g", groups=24, spare=10, day=DAY).set_index("material")
    assert needs.loc["Citric Acid", "missing_g"] == 0
    assert sum(needs.need_g) == 2640
    with pytest.raises(RecordError, match="One group or more"):
        stock.needs(GEL, "100 g", groups=0)


def test_two_formulas_share_a_shelf(bench: Bench) -> None:
    shopping = bench.stock().shopping_list([GEL, GEL], "100 g", groups=2, spare="0 %", day=DAY)
    assert dict(zip(shopping.material, shopping.buy_g, strict=True))["Glycerin"] == 20


def test_a_lot_is_traced_to_its_trials_and_back_through_a_premix_and_a_split(bench: Bench) -> None:
    stock = bench.stock(MATS)
    acid = stock.receive("Citric Acid", "500 g", lot="CA-9", supplier="coast supplies")
    water = stock.receive("Aqua", "5 kg", lot="W-1")
    twenty = Formula.parse(
        "phase,material,percent\nA,Aqua,q.s.\nA,Citric Acid,20", name="acid 20 %"
    )
    premix = stock.premix(twenty, "100 g", lot="P-1", lots={"Citric Acid": acid, "Aqua": water})
    assert stock.remaining(acid) == 480
    base = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,acid 20 %,0.5", name="base")
    batch = bench.start_batch(base, "200 g")
    batch.weigh("Aqua", "199 g", lot=water)
    batch.weigh("acid 20 %", "1 g", lot=premix)
    made = batch.split({"S-a": ("90 g", {}), "S-b": ("90 g", {"Glycerin": "4 g"})})
    other = bench.record(GEL, label="other")
    assert [t.label for t in stock.trace(acid)] == ["S-a", "S-b"]
    assert [x.lot for x in stock.lots_of(made[1])] == ["W-1", "CA-9", "P-1"]
    assert stock.lots_of(other) == []
    assert stock.lot("P-1").material == "acid 20 %"
    assert bench.verify().ok


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda s: s.receive("Urea", "1 kg", received="2.3.26"), "A day such as"),
        (
            lambda s: s.receive("Urea", "1 kg", received="2026-03-02", expiry="2025-03-02"),
            "An expiry after the receipt",
        ),
        (lambda s: s.receive("  ", "1 kg"), "nothing was written"),
        (lambda s: s.receive("Urea", "1 L"), "mass"),
        (lambda s: s.lot("X"), "no such lot"),
    ],
)
def test_what_cannot_be_is_refused(bench: Bench, call: object, words: str) -> None:
    with pytest.raises(LabkitError, match=words):
        call(bench.stock())  # type: ignore[operator]
    assert bench.records("lot") == []
