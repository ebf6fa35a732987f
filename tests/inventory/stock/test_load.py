"""Many hands at one shelf for a while: nothing lost, nothing below nothing, no lock that reaches a person.

`make soak` runs the same with 50 people for a minute (LOAD_PEOPLE, LOAD_SECONDS).
"""

from __future__ import annotations

import os
import random
import time
from collections import Counter
from decimal import Decimal as D

import pytest
from django.core.management import call_command
from django.db.models import Sum

from inventory.models import Lot, Material, Movement
from inventory.stock import ledger
from shop.models import Role
from shop.platform.acts import Refused, Signed, writing
from tests.conftest import NOW, TODAY, make_user
from tests.inventory.stock.test_at_once import at_once
from tests.sample_shop import make_profile

PEOPLE = int(os.environ.get("LOAD_PEOPLE", "20"))
SECONDS = float(os.environ.get("LOAD_SECONDS", "15"))


class Person:
    """One of many: receives, uses, mixes, sells, writes off and undoes at random, and remembers what was taken."""

    def __init__(self, seed: int, by, shelf: list[Material], until: float) -> None:
        self.dice, self.by, self.shelf, self.until = random.Random(seed), by, shelf, until
        self.came, self.went, self.acts = Counter(), Counter(), []

    def __call__(self) -> Person:
        while time.monotonic() < self.until:
            act = self.dice.choices(
                [self.receive, self.use, self.mix, self.sell, self.write_off, self.undo], [4, 6, 2, 2, 1, 2]
            )[0]
            act()
        return self

    def quantity(self) -> D:
        return D(self.dice.randint(1, 4000)) / 10

    def receive(self) -> None:
        material, quantity = self.dice.choice(self.shelf), self.quantity()
        value = D(self.dice.randint(0, 9999)) / 100
        ledger.receive(
            lot=Lot(material=material, received_on=TODAY), quantity=quantity, value=value, signed=Signed(self.by, NOW)
        )
        self.came[material.pk] += quantity

    def use(self) -> None:
        material, quantity = self.dice.choice(self.shelf), self.quantity()
        out = ledger.use(material=material, quantity=quantity, signed=Signed(self.by, NOW))
        self.went[material.pk] += quantity
        self.acts.append((out[0].act, {material.pk: quantity}))

    def mix(self) -> None:
        """Two materials in one transaction, locked together, taken in either order."""
        pair, quantity = self.dice.sample(self.shelf, 2), self.quantity()
        with writing():
            ledger.lock(pair)
            for material in pair:
                ledger.use(material=material, quantity=quantity, signed=Signed(self.by, NOW))
        for material in pair:
            self.went[material.pk] += quantity

    def sell(self) -> None:
        material, quantity = self.dice.choice(self.shelf), self.quantity()
        try:
            ledger.sell(material=material, quantity=quantity, signed=Signed(self.by, NOW))
        except Refused:
            return
        self.went[material.pk] += quantity

    def write_off(self) -> None:
        material, quantity = self.dice.choice(self.shelf), self.quantity()
        ledger.write_off(material=material, quantity=quantity, reason="spilt", signed=Signed(self.by, NOW))
        self.went[material.pk] += quantity

    def undo(self) -> None:
        if not self.acts:
            return
        act, taken = self.acts.pop(self.dice.randrange(len(self.acts)))
        ledger.undo(act=act, signed=Signed(self.by, NOW))
        for pk, quantity in taken.items():
            self.went[pk] -= quantity


@pytest.mark.slow
@pytest.mark.parametrize("valuation", ["fifo", "average"])
@pytest.mark.django_db(transaction=True)
def test_many_people_move_stock_at_random_for_a_while(valuation):
    profile = make_profile()
    profile.valuation = valuation
    profile.save()
    keeper = make_user(Role.KEEPER)
    shelf = [Material.objects.create(key=f"m{n}", name=f"M{n}", kind="resin", unit="g") for n in range(5)]
    until = time.monotonic() + SECONDS
    people = at_once([Person(seed, keeper, shelf, until) for seed in range(PEOPLE)])
    assert all(isinstance(person, Person) for person in people), people
    for material in shelf:
        sums = {
            kind: Movement.objects.not_undone()
            .filter(material=material, kind=kind)
            .aggregate(sum=Sum("quantity"))["sum"]
            or D(0)
            for kind in ("receive", "use", "write_off", "difference")
        }
        assert sums["receive"] == sum(person.came[material.pk] for person in people)
        assert -(sums["use"] + sums["write_off"]) == sum(person.went[material.pk] for person in people)
        left = Lot.objects.filter(material=material).aggregate(sum=Sum("quantity_left"))["sum"]
        assert left == sum(sums.values())
    call_command("check_books")  # leaves with an error where anything does not add up
