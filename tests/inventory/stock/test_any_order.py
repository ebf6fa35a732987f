"""Any sequence of acts leaves the shelf as a naive shopkeeper with a notebook would have it, to the last 1/10 000."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from datetime import date, timedelta
from decimal import ROUND_HALF_UP
from decimal import Decimal as D
from fractions import Fraction as F

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    rule,
    run_state_machine_as_test,
)

from inventory.models import Lot, Movement
from inventory.stock import books, ledger
from shop.models import Profile, User
from shop.platform.acts import Refused
from tests.conftest import TODAY
from tests.inventory.conftest import Shelf

quantities = st.integers(1, 4000).map(lambda n: D(n) / 100)
prices = st.integers(0, 5000).map(lambda n: D(n) / 100)
dates = st.sampled_from([None, TODAY - timedelta(days=3), TODAY, TODAY + timedelta(days=40)])


def cut(value: D) -> D:
    return value.quantize(D("0.0001"), ROUND_HALF_UP)


class Notebook:
    """What a shopkeeper would write: what each lot holds, and what each act did. Knows nothing of the ledger's code."""

    def __init__(self, averages: bool) -> None:
        self.averages = averages
        self.left: dict[int, D] = {}
        self.worth: dict[int, D] = {}
        self.pool = D(0)
        self.received: dict[int, date] = {}
        self.good: dict[int, date | None] = {}
        self.acts: list[list[dict]] = []
        self.counted_out = False
        self.never_counted: list[int] = []

    def known(self) -> bool:
        """Whether anybody has said how much is there: a count, a delivery, what was found beside them."""
        said = [one for act in self.acts for one in act if one["kind"] in ("receive", "difference")]
        return self.counted_out or any(not one["undone"] and one["lot"] not in self.never_counted for one in said)

    def in_date(self, lot: int) -> bool:
        return self.good[lot] is None or self.good[lot] >= TODAY

    def order(self) -> list[int]:
        full = [lot for lot, quantity in self.left.items() if quantity]
        return sorted(
            full, key=lambda lot: (not self.in_date(lot), self.good[lot] or date.max, self.received[lot], lot)
        )

    def new_lot(self, lot: int, received: date, good: date | None) -> None:
        self.left[lot], self.worth[lot], self.received[lot], self.good[lot] = D(0), D(0), received, good

    def write(self, kind: str, lot: int, quantity: D, value: D) -> dict:
        self.left[lot] += quantity
        self.worth[lot] += value
        self.pool += value
        return {"kind": kind, "lot": lot, "quantity": quantity, "value": value, "undone": False}

    def take(self, kind: str, quantity: D, order: list[int]) -> list[dict]:
        lines, all_of_it = [], sum(self.left.values())
        out = self.pool if quantity == all_of_it else cut(self.pool * quantity / all_of_it)
        takes, open_quantity = [], quantity
        for lot in order:
            takes.append(min(self.left[lot], open_quantity))
            open_quantity -= takes[-1]
        shares = self.shares(out, takes)
        for lot, take, share in zip(order, takes, shares, strict=True):
            if not take:
                break
            if self.averages:
                value = share
            else:
                value = self.worth[lot] if take == self.left[lot] else cut(self.worth[lot] * take / self.left[lot])
            lines.append(self.write(kind, lot, -take, -value))
        return lines

    def shares(self, out: D, takes: list[D]) -> list[D]:
        """An issue's value by quantity: cut down, and each 0.0001 left over to whoever lost most by it, in order."""
        exact = [F(out) * F(take) / F(sum(takes)) for take in takes]
        shares = [D(int(one * 10_000)).scaleb(-4) for one in exact]
        for _ in range(int((out - sum(shares)) * 10_000)):
            lost = [one - F(share) for one, share in zip(exact, shares, strict=True)]
            shares[lost.index(max(lost))] += D("0.0001")
        return shares

    def undo(self, lines: list[dict]) -> bool:
        """Cross the lines out, last first; False (and nothing crossed out) if what came in is gone."""
        before = dict(self.left), dict(self.worth), self.pool
        for line in reversed(lines):
            lot, came_in = line["lot"], line["quantity"] > 0
            self.write("", lot, -line["quantity"], -line["value"])
            gone = self.left[lot] < 0
            if self.averages:
                later = [one for act in self.acts for one in act if one["no"] > line["no"] and not one["undone"]]
                gone |= line["kind"] == "receive" and any(one["quantity"] < 0 for one in later)
                gone |= self.pool < 0 or (not sum(self.left.values()) and self.pool != 0)
            else:
                gone |= self.worth[lot] < 0 or (not self.left[lot] and self.worth[lot] != 0)
            if came_in and gone:
                self.left, self.worth, self.pool = before
                return False
        for line in lines:
            line["undone"] = True
        return True


class AnyOrder(RuleBasedStateMachine):
    averages = False
    acts = Bundle("acts")

    def __init__(self) -> None:
        super().__init__()
        self.undone_at_the_end = ExitStack()
        self.undone_at_the_end.enter_context(transaction.atomic())
        self.shelf = Shelf(User.objects.get())
        self.book = Notebook(self.averages)

    @initialize(counted=st.booleans())
    def begin(self, counted: bool) -> None:
        self.book.counted_out = counted
        if counted:
            self.shelf.is_counted_out()

    def teardown(self) -> None:
        problems = books.problems()
        transaction.set_rollback(True)
        self.undone_at_the_end.close()
        assert problems == []

    def compare(self, lines: list[dict]) -> int:
        """The ledger's last movements say what the notebook says; returns the number of the act."""
        rows = list(Movement.objects.order_by("-pk")[: len(lines)])[::-1]
        assert [(row.kind, row.lot_id, row.quantity, row.value) for row in rows] == [
            (line["kind"], line["lot"], line["quantity"], line["value"]) for line in lines
        ]
        for row, line in zip(rows, lines, strict=True):
            line["no"], line["act"] = row.pk, row.act
        self.book.acts.append(lines)
        return len(self.book.acts) - 1

    @rule(target=acts, quantity=quantities, value=prices, use_by=dates)
    def receive(self, quantity: D, value: D, use_by: date | None) -> int:
        received = TODAY - timedelta(days=5)
        lot = self.shelf.receive(str(quantity), str(value), received_on=received, use_by=use_by)
        self.book.new_lot(lot.pk, received, use_by)
        return self.compare([self.book.write("receive", lot.pk, quantity, value)])

    @rule(target=acts, quantity=quantities, lost=st.booleans())
    def use_or_lose(self, quantity: D, lost: bool) -> int:
        def act() -> None:
            verb = {"material": self.shelf.material, "quantity": quantity, "reason": "spilt"}
            ledger.write_off(**verb, signed=self.shelf.signed()) if lost else self.shelf.use(str(quantity))

        return self.happens("write_off" if lost else "use", quantity, act)

    def happens(self, kind: str, quantity: D, act: Callable[[], object]) -> int:
        """What happened goes out even where the shelf held less: what was missing is booked in first."""
        held, order, lines = sum(self.book.left.values(), D(0)), self.book.order(), []
        act()
        if quantity > held:
            known = self.book.known()
            last = max(self.book.left if known else self.book.never_counted, default=None)
            if last is None or not self.book.in_date(last):
                last = Lot.objects.order_by("-pk")[0].pk
                self.book.new_lot(last, TODAY, None)
                self.book.never_counted += [] if known else [last]
            lines.append(self.book.write("difference", last, quantity - held, self.missing(quantity - held)))
            order += [last] if last not in order else []
        return self.compare(lines + self.book.take(kind, quantity, order))

    def missing(self, quantity: D) -> D:
        """No pack has a price here, so what was missing is worth what the last delivery that cost something cost."""
        priced = [
            line for act in self.book.acts for line in act
            if line["kind"] == "receive" and line["value"] and not line["undone"]
        ]  # fmt: skip
        return cut(priced[-1]["value"] / priced[-1]["quantity"] * quantity) if priced else D(0)

    @rule(target=acts, quantity=quantities)
    def sell(self, quantity: D) -> object:
        held = sum((left for lot, left in self.book.left.items() if self.book.in_date(lot)), D(0))
        verb = {"material": self.shelf.material, "quantity": quantity, "signed": self.shelf.signed()}
        if not self.book.known():
            return self.happens("use", quantity, lambda: ledger.sell(**verb))
        if quantity > held:
            with pytest.raises(Refused):
                ledger.sell(**verb)
            return multiple()
        ledger.sell(**verb)
        return self.compare(self.book.take("use", quantity, self.book.order()))

    @rule(act=acts, quantity=quantities)
    def put_back(self, act: int, quantity: D) -> None:
        lines = self.book.acts[act]
        used = next((line for line in lines if line["kind"] == "use"), None)
        if used is None:
            return
        returned = sum(
            (one["quantity"] for one in lines if one["kind"] == "return" and one["lot"] == used["lot"] and
             not one["undone"]), D(0),
        )  # fmt: skip
        movement = Movement.objects.get(pk=used["no"])
        verb = {"movement": movement, "quantity": quantity, "signed": self.shelf.signed()}
        if used["undone"] or returned + quantity > -used["quantity"]:
            with pytest.raises(Refused):
                ledger.put_back(**verb)
            return
        share = [cut(-used["value"] * part / -used["quantity"]) for part in (returned, returned + quantity)]
        ledger.put_back(**verb)
        self.compare([self.book.write("return", used["lot"], quantity, share[1] - share[0])])
        lines.extend(self.book.acts.pop())

    @rule(act=acts)
    def undo(self, act: int) -> None:
        lines = [line for line in self.book.acts[act] if not line["undone"]]
        verb = {"act": self.book.acts[act][0]["act"], "signed": self.shelf.signed()}
        if lines and self.book.undo(lines):
            ledger.undo(**verb)
        else:
            with pytest.raises(Refused):
                ledger.undo(**verb)

    @invariant()
    def the_shelf_is_what_the_notebook_says(self) -> None:
        lots = {lot.pk: lot for lot in Lot.objects.all()}
        assert {pk: lot.quantity_left for pk, lot in lots.items()} == self.book.left
        if not self.averages:
            assert {pk: lot.value_left for pk, lot in lots.items()} == self.book.worth
        assert sum((lot.value_left for lot in lots.values()), D(0)) == self.book.pool


@pytest.mark.parametrize("valuation", ["fifo", "average"])
def test_any_sequence_of_acts_keeps_the_books(keeper, valuation):
    Profile.objects.update(valuation=valuation)
    machine = type("AnyOrder", (AnyOrder,), {"averages": valuation == "average"})
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=40,
            stateful_step_count=20,
            deadline=None,
            phases=[Phase.reuse, Phase.generate],  # a failing run is short as it is; making it shorter takes minutes
            suppress_health_check=list(HealthCheck),
        ),
    )
