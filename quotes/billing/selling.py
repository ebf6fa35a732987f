"""Goods sold over the counter: wax, fins, a leash, off the shelf, invoiced and paid in one act.

They go through the same ledger, number series and totals as the rest; a sale of what is not there is refused.
What was sold stays off the shelf as long as its line of the invoice stands; once that is credited, what came back is
put back by undoing the sale in the store.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.db.models import QuerySet

from inventory.models import Material, Movement
from inventory.stock import ledger
from inventory.stock.standing import Stand
from quotes.bench import Charges
from quotes.billing.issuing import write_invoice
from quotes.billing.parts import House
from quotes.billing.paying import pay, to_pay
from quotes.billing.quick import walk_in
from quotes.models import Invoice, InvoiceLine, Payment
from quotes.totals import DocumentLine
from shop.countries import tax
from shop.models import Customer, Profile, TaxRate
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

SALE = "sale"  # this room, to `inventory.stock.standing`
UNITS = {"piece": "C62", "g": "GRM", "mL": "MLT", "m": "MTR", "m2": "MTK"}  # UN/ECE Recommendation 20


class Goods(NamedTuple):
    """So much of a material, at a price for one of its unit, with or without tax as the shop's prices are."""

    material: Material
    quantity: Decimal
    price: Decimal


def goods_rate(day: date) -> tuple[str, Decimal]:
    """Category and per cent of the tax on goods on a day. Raises Refused where no rate is in force."""
    if not tax.profile(Profile.objects.get().tax_profile).registered:
        return "O", Decimal(0)
    rate = TaxRate.objects.for_goods(day)
    if rate is None:
        raise Refused("No tax rate is in force today; add the rate for goods under Shop.")
    return rate.category, rate.percent


@action("invoice.sell", *SEES_MONEY)
def sell_goods(
    *,
    goods: Sequence[Goods],
    method: str,
    signed: Signed,
    customer: Customer | None = None,
) -> Payment:
    """Take goods off the shelf, invoice them and take the money; returns the payment with its receipt.

    Raises Refused for nothing, for less than nothing, and for more than the shelf holds in date.
    """
    if not goods:
        raise Refused("Nothing is sold yet: say how many of something.")
    moved: dict[int, list[Movement]] = {}  # by place on the invoice
    for place, each in sorted(enumerate(goods, start=1), key=lambda placed: placed[1].material.pk):
        if each.quantity <= 0 or each.price < 0:
            raise Refused(f"{each.material.name}: how many must be above zero, and a price not below it.")
        moved[place] = ledger.sell(material=each.material, quantity=each.quantity, signed=signed)
    house, (category, percent) = House.of(signed.shop), goods_rate(signed.day)
    lines = tuple(
        DocumentLine(each.material.name, each.quantity, each.price, category, percent, UNITS[each.material.unit])
        for each in goods
    )
    bill = Charges(lines, house.profile.prices_include_tax, house.profile.currency)
    invoice = write_invoice(
        house, jobs=[], buyer=customer or walk_in(), whole=bill.totals(), lines=[(None, line) for line in lines],
        money=[], signed=signed,
    )  # fmt: skip
    for line in invoice.lines.all():
        line.movements.set(moved[line.position])
    return pay(invoice=invoice, amount=to_pay(invoice, method), method=method, signed=signed)


def goods_on(invoice: Invoice) -> QuerySet[Movement]:
    """What an invoice's lines took off the shelf and is not back on it, with its material."""
    gone = Movement.objects.not_undone().filter(invoice_lines__invoice=invoice)
    return gone.select_related("material").order_by("pk")


def sales_standing(acts: Collection[uuid.UUID]) -> dict[uuid.UUID, Stand]:
    """The lines of invoices that stand on acts of the ledger, not credited altogether, by act. One query."""
    links = InvoiceLine.objects.standing().filter(movements__act__in=acts).order_by("pk")
    return {
        act: Stand(
            SALE, f"invoice {number}", "Credit it first; then what came back is put back on the shelf.", "invoice", pk,
            SEES_MONEY,
        )
        for act, pk, number in links.values_list("movements__act", "invoice_id", "invoice__number")
    }  # fmt: skip
