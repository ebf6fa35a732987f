"""A wrong figure anywhere in the store is found by recomputing it."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal as D
from pathlib import Path

import pytest
from django.db import connection

from inventory.models import DayTotal, Lot, Movement, WeekUse
from inventory.stock import books, totals
from tests.conftest import NOW, TODAY

HOUSE = Path(__file__).resolve().parents[3]


@pytest.fixture
def used(shelf):
    shelf.receive("1000", "5.00")
    [out] = shelf.use("400")
    shelf.undo(out)
    return shelf.use("300")[0]


def spoil(table: str, column: str, value: int, pk: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE inventory_{table} SET {column} = %s WHERE id = %s", [value, pk])


def test_the_flow_of_a_material_says_where_it_went(shelf, used):
    [flow] = books.flows()
    assert flow.received == (D(1000), D(5))
    assert flow.used == (D(300), D("1.50"))
    assert flow.closing == (D(700), D("3.50"))
    assert flow.opening == books.NONE
    assert books.flows(last=TODAY - timedelta(days=1)) == []
    shelf.use("100", recorded_at=NOW + timedelta(days=1))
    [later] = books.flows(first=TODAY + timedelta(days=1))
    assert later.opening == flow.closing
    assert (later.received, later.used, later.closing) == (books.NONE, (D(100), D("0.50")), (D(600), D("3.00")))
    assert books.flows(last=TODAY) == [flow]
    assert books.problems() == []


SPOILT = [
    ("lot", "quantity_left", 1, "says"),
    ("lot", "value_left", 1, "says"),
    ("movement", "quantity", -500_000_000, "says"),
    ("movement", "value", -1, "more than its movements make"),
]


@pytest.mark.parametrize(("table", "column", "value", "words"), SPOILT)
def test_a_figure_that_does_not_add_up_is_found(used, table, column, value, words):
    spoil(table, column, value, used.pk if table == "movement" else used.lot_id)
    assert any(words in problem for problem in books.problems())


def test_a_total_of_a_day_that_is_not_its_movements_is_found(used):
    total = DayTotal.objects.get(side="use")
    assert (total.quantity, total.value) == (D(-300), D("-1.50")), "what was undone is no longer in it"
    spoil("daytotal", "quantity", -1, total.pk)
    [problem] = books.problems()
    assert problem.startswith(f"Laminating resin: the total of what was recorded on {TODAY}")


def test_a_use_of_a_week_that_is_not_its_movements_is_found(used):
    week = WeekUse.objects.get()
    assert (week.week, week.quantity) == (totals.monday(TODAY), D(300)), "what was undone is no longer in it"
    spoil("weekuse", "quantity", 1_000_000, week.pk)
    assert books.problems() == [
        f"Laminating resin: the use in the week of {totals.monday(TODAY)} is 1.000000; its movements make 300.000000."
    ]


@pytest.mark.calendar
def test_in_another_time_zone_a_day_is_another_day(shelf, profile):
    sunday = NOW.replace(hour=23) - timedelta(days=3)
    shelf.receive("1000", "5.00", recorded_at=sunday, received_on=TODAY - timedelta(days=3))
    shelf.use("10", recorded_at=sunday)
    assert {total.recorded_on for total in DayTotal.objects.all()} == {TODAY - timedelta(days=3)}
    assert WeekUse.objects.get().week == TODAY - timedelta(days=9)
    profile.timezone = "Pacific/Auckland"
    profile.save()
    assert {total.recorded_on for total in DayTotal.objects.all()} == {TODAY - timedelta(days=2)}
    assert WeekUse.objects.get().week == TODAY - timedelta(days=2)
    assert books.problems() == []


def test_totals_worked_out_anew_from_the_movements_are_those_that_were_kept(used, profile):
    kept = totals.days_kept(), totals.weeks_kept()
    assert [len(both) for both in kept] == [2, 1]
    DayTotal.objects.update(quantity=1)
    WeekUse.objects.all().delete()
    totals.work_out_anew(profile.timezone)
    assert (totals.days_kept(), totals.weeks_kept()) == kept
    assert books.problems() == []


def test_a_reversal_that_undoes_something_else_is_found(used):
    reversal = Movement.objects.get(kind="reversal")
    spoil("movement", "quantity", 399_000_000, reversal.pk)
    assert f"Movement {reversal.pk} does not undo movement {reversal.reverses_id} exactly." in books.problems()


def test_a_lot_that_once_held_less_than_nothing_is_found(shelf):
    lot = shelf.receive("100", "1.00")
    [out] = shelf.use("90")
    shelf.undo(out)
    spoil("movement", "quantity", -120_000_000, out.pk)
    assert f"Lot {lot.pk} held less than nothing after movement {out.pk}." in books.problems()


def test_under_average_the_lots_share_the_money_of_the_material(averaging, used):
    Lot.objects.update(value_left=D("3.00"))
    assert any("its lots hold" in problem for problem in books.problems())


def test_only_the_ledger_writes_movements():
    writes = re.compile(
        r"\bMovement\(|\bmade\(\s*Movement\b|Movement\.objects\.(create|bulk_create|get_or_create)|inventory\.stock\.act\b"
    )
    writers = {
        path.relative_to(HOUSE).as_posix()
        for room in ("shop", "inventory", "quotes")
        for path in (HOUSE / room).rglob("*.py")
        if writes.search(path.read_text())
    }
    assert writers - {"inventory/models/movements.py"} == {"inventory/stock/act.py", "inventory/stock/ledger.py"}
