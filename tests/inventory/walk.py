"""The store's pages and sample rows."""

from __future__ import annotations

from decimal import Decimal

from inventory.counting import counts as counting
from inventory.counting import opening, weighing
from inventory.models import Delivery, Lot, Material, Order, Pack, PackPrice, Supplier
from inventory.receiving import deliveries, supplier_prices
from inventory.safety import storing as safety
from inventory.stock import ledger
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.walker import MONEY, STAFF, Page, Rows, pages, sample


def _moment(rows: Rows) -> dict[str, object]:
    return {"signed": Signed(rows.keeper, NOW)}


@sample
def material(rows: Rows):
    return Material.objects.create(key="walk-resin", name="Casting resin", kind="resin", unit="g", shelf="A1")


@sample
def supplier(rows: Rows):
    return Supplier.objects.create(name="Headland Supplies")


@sample
def pack(rows: Rows):
    pack = Pack.objects.create(
        material=rows["material"], supplier=rows["supplier"], words="20 kg drum", content=Decimal(20_000)
    )
    PackPrice.objects.create(pack=pack, price=Decimal(96), from_day=TODAY)
    return pack


@sample
def lot(rows: Rows):
    return ledger.receive(
        lot=Lot(material=rows["material"], received_on=TODAY, pack=rows["pack"]),
        quantity=Decimal(20_000),
        value=Decimal(96),
        **_moment(rows),
    )


@sample
def movement(rows: Rows):
    (movement,) = ledger.use(material=rows["lot"].material, quantity=Decimal(10), **_moment(rows))
    return movement


def _counted(rows: Rows):
    """A shelf of its own whose one lot was counted, 10 g too few, and the difference booked."""
    putty = Material.objects.create(key="walk-putty", name="Putty", kind="filler", unit="g", shelf="Walk")
    ledger.receive(lot=Lot(material=putty, received_on=TODAY), quantity=Decimal(500), value=Decimal(4), **_moment(rows))
    count = counting.start_count(shelf="Walk", everything=False, blind=True, signed=Signed(rows.keeper, NOW))
    line = counting.enter_line(line=count.lines.get(), packs=0, loose=Decimal(490), gross_g={}, **_moment(rows))
    counting.book_count(count=count, lines=[line.pk], signed=Signed(rows.keeper, NOW))
    return count


@sample
def closed_count(rows: Rows):
    return _counted(rows)


@sample
def counted_movement(rows: Rows):
    """What a count booked, which only the counter may."""
    return rows["closed_count"].lines.get().movement


@sample
def delivery_movement(rows: Rows):
    """What came on a delivery note, with its share of the freight."""
    pack, by = rows["pack"], rows.keeper
    delivery = Delivery(supplier=pack.supplier, note="L 17", received_on=TODAY, currency="EUR", freight=Decimal(9))
    lines = [deliveries.DeliveryLine(pack, 1, Decimal(96))]
    [lot] = deliveries.take_in(delivery=delivery, lines=lines, keep_prices=False, signed=Signed(by, NOW))
    return lot.movements.get()


@sample
def question(rows: Rows):
    gone = Material.objects.create(key="walk-tape", name="Masking tape", kind="tape", unit="m", shelf="A2")
    opening.opening_count(there={gone: Decimal(0)}, untracked=[], signed=Signed(rows.keeper, NOW))
    ledger.use(material=gone, quantity=Decimal(3), **_moment(rows))  # more than there was
    return gone.questions.first()


@sample
def container(rows: Rows):
    return weighing.add_container(
        lot=rows["lot"], name="drum", tare_g=Decimal(1_200), holds=Decimal(20_000), **_moment(rows)
    )


@sample
def count(rows: Rows):
    rows["lot"]
    return counting.start_count(shelf="A1", everything=False, blind=True, signed=Signed(rows.keeper, NOW))


@sample
def count_line(rows: Rows):
    return rows["count"].lines.first()


@sample
def price_list(rows: Rows):
    return supplier_prices.keep_list(
        supplier=rows["supplier"],
        name="list.csv",
        text="code;price\n1;2.00\n",
        from_day=TODAY,
        signed=Signed(rows.keeper, NOW),
    )


@sample
def label_code(rows: Rows):
    return {"code": f"M{rows['material'].pk}"}


@sample
def sheet(rows: Rows):
    return safety.keep_sheet(
        material=rows["material"],
        content=b"%PDF-1.7 sample",
        name="sheet.pdf",
        issued_on=TODAY,
        signed=Signed(rows.keeper, NOW),
    )


@sample
def order(rows: Rows):
    return Order.objects.create(
        pack=rows["pack"], packs=1, ordered_on=TODAY, expected_on=TODAY, made_at=NOW, by=rows.keeper
    )


@sample
def bringing(rows: Rows):
    """A supplier who still has to bring something."""
    return rows["order"].pack.supplier


pages(
    Page("store", STAFF),
    Page("material-new", MONEY, form=True),
    Page("material", STAFF, "material"),
    Page("material-edit", MONEY, "material", form=True),
    Page("material-retire", MONEY, "material"),
    Page("material-label", STAFF, "material"),
    Page("shelf-labels", STAFF),
    Page("receive", MONEY),
    Page("receive", MONEY, "material", form=True),
    Page("use", STAFF, "material", form=True),
    Page("write-off", STAFF, "material", form=True),
    Page("pack-new", MONEY, "material", form=True),
    Page("pack-edit", MONEY, "pack", form=True),
    Page("pack-price", MONEY, "pack", form=True),
    Page("movement-reverse", STAFF, "movement"),
    Page("movement-reverse", STAFF, "counted_movement"),
    Page("movement-reverse", MONEY, "delivery_movement"),
    Page("questions", STAFF),
    Page("question-answer", STAFF, "question", form=True),
    Page("suppliers", MONEY),
    Page("supplier-new", MONEY, form=True),
    Page("supplier-edit", MONEY, "supplier", form=True),
    Page("delivery-new", MONEY, "bringing", form=True),
    Page("supplier-price-list-new", MONEY, "supplier", form=True),
    Page("supplier-price-list", MONEY, "price_list"),
    Page("supplier-price-list-tie", MONEY, "price_list", form=True),
    Page("lot", STAFF, "lot"),
    Page("lot-edit", MONEY, "lot", form=True),
    Page("lot-label", STAFF, "lot"),
    Page("shelf-test", STAFF, "lot", form=True),
    Page("container-new", STAFF, "lot", form=True),
    Page("weigh", STAFF, "container", form=True),
    Page("container-empty", STAFF, "container", get=302),
    Page("container-label", STAFF, "container"),
    Page("counts", STAFF, form=True),
    Page("opening-count", MONEY),  # its form has boxes only where something was never counted: see test_not_counted
    Page("count", STAFF, "count"),
    Page("count-found", STAFF, "count", form=True),
    Page("count-result", STAFF, "count"),
    Page("count-result", STAFF, "closed_count"),
    Page("count-line", STAFF, "count_line", form=True),
    Page("stock-worth", MONEY),
    Page("plan", STAFF),
    Page("material-use", STAFF, "material"),
    Page("buy-list", MONEY),
    Page("buy-list-pdf", MONEY),
    Page("buy-list-text", MONEY, "supplier"),
    Page("buy-list-order", MONEY, "supplier"),
    Page("buying-rules", MONEY, form=True),
    Page("labels", STAFF),
    Page("label-test", STAFF),
    Page("scanned", STAFF, "label_code", get=302),
    Page("hazards", STAFF),
    Page("place-edit", MONEY),
    Page("data-sheet", STAFF, "material"),
    Page("safety-edit", MONEY, "material", form=True),
    Page("data-sheet-file", STAFF, "sheet"),
    Page("order-close", MONEY, "order", get=405),
)
