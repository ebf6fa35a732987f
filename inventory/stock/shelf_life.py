"""How long a lot is good: corrected dates, the day it was opened, and a test that lets it be used past its date.

A test defers to the product's data sheet: it says that a small batch gelled as it should, nothing more.
"""

from __future__ import annotations

from datetime import date, timedelta

from django.utils import timezone

from inventory.models import Lot, ShelfTest
from inventory.stock import ledger
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused, Signed, action, checked
from shop.text.formats import day_year

LONGEST = timedelta(days=180)  # how far one test may move a date: common practice, no source; 30 to 365


@action("lot.test", *EVERY_ROLE)
def record_test(
    *, lot: Lot, tested_on: date, passed: bool, good_until: date | None, words: str, signed: Signed
) -> ShelfTest:
    """A gel test: passed, the lot is good until the day given; failed, it is out of date from the day of the test on.

    Raises Refused for a date that is missing, before the test, or more than half a year after it.
    """
    ledger.lock([lot.material])
    row = Lot.objects.select_related("material").get(pk=lot.pk)
    if tested_on > timezone.localdate(signed.at):
        raise Refused("Tested on must not lie in the future.", field="tested_on")
    last = row.shelf_tests.order_by("-tested_on").first()
    if last is not None and tested_on < last.tested_on:
        raise Refused(
            f"Tested on lies before the last test, {day_year(last.tested_on)}: that one counts.", field="tested_on"
        )
    if passed:
        _check_date(tested_on, good_until)
    test = ShelfTest(
        lot=row,
        tested_on=tested_on,
        passed=passed,
        good_until=good_until if passed else None,
        words=words,
        by=signed.by,
        made_at=signed.at,
    )
    checked(test).save()
    row.tested_until = good_until if passed else tested_on - timedelta(days=1)
    row.good_until = row.work_out_good_until(row.material)
    row.save(update_fields=["tested_until", "good_until"])
    said = f"good until {day_year(good_until)}" if passed else "no longer good"
    signed.record(row, f"Tested {row}: {said}")
    return test


def _check_date(tested_on: date, good_until: date | None) -> None:
    if good_until is None:
        raise Refused("Good until is empty; say until when you trust it.", field="good_until")
    if good_until < tested_on:
        raise Refused("Good until must not lie before the test.", field="good_until")
    if good_until > tested_on + LONGEST:
        raise Refused(f"One test is good for {LONGEST.days} days at most; test it again then.", field="good_until")


@action("lot.change", *SEES_MONEY)
def change_lot(
    *, lot: Lot, use_by: date | None, opened_on: date | None, brand: str, delivery_note: str, signed: Signed
) -> Lot:
    """Correct what was typed about a lot; what it holds and cost only the ledger changes. Raises Refused."""
    ledger.lock([lot.material])
    row = Lot.objects.select_related("material").get(pk=lot.pk)
    if opened_on is not None and opened_on > timezone.localdate(signed.at):
        raise Refused("Opened on must not lie in the future.", field="opened_on")
    row.use_by, row.opened_on, row.brand, row.delivery_note = use_by, opened_on, brand, delivery_note
    row.good_until = row.work_out_good_until(row.material)
    checked(row).save(update_fields=["use_by", "opened_on", "brand", "delivery_note", "good_until"])
    signed.record(row, f"Changed {row}")
    return row
