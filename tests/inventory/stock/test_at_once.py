"""Several people at one shelf: nothing is lost or below nothing, and nobody is told that a database is locked."""

from __future__ import annotations

import random
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal as D

import pytest
from django.db import connection, connections
from django.db.models import Sum

from inventory.models import Lot, Material, Movement, StockQuestion
from inventory.stock import books, ledger
from shop.models import Role
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY, make_user
from tests.sample_shop import make_profile


def at_once(acts: list[Callable[[], object]]) -> list[object]:
    """Run all acts, each in a thread and connection of its own; their results or refusals."""

    def run(act: Callable[[], object]) -> object:
        try:
            return act()
        except Refused as refusal:
            return refusal
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(acts)) as threads:
        return list(threads.map(run, acts))


@pytest.fixture
def keeper(transactional_db):
    make_profile()
    return make_user(Role.KEEPER)


def material(key: str) -> Material:
    return Material.objects.create(key=key, name=key.title(), kind="resin", unit="g")


@pytest.mark.django_db(transaction=True)
def test_the_tests_stand_on_a_file_or_a_server(keeper):
    assert connection.vendor != "sqlite" or connection.settings_dict["NAME"] != ":memory:"


@pytest.mark.django_db(transaction=True)
def test_two_people_take_the_last_of_a_lot(keeper):
    resin = material("resin")
    ledger.receive(lot=Lot(material=resin, received_on=TODAY), quantity=D(100), value=D(1), signed=Signed(keeper, NOW))
    sales = at_once([lambda: ledger.sell(material=resin, quantity=D(60), signed=Signed(keeper, NOW))] * 2)
    assert sum(isinstance(sale, Refused) for sale in sales) == 1
    at_once([lambda: ledger.use(material=resin, quantity=D(30), signed=Signed(keeper, NOW))] * 2)
    assert Movement.objects.filter(kind="difference").aggregate(Sum("quantity"))["quantity__sum"] == 20
    assert StockQuestion.objects.count() == 1
    assert books.problems() == []


@pytest.mark.django_db(transaction=True)
def test_one_movement_is_undone_once_by_two_people(keeper):
    resin = material("resin")
    ledger.receive(lot=Lot(material=resin, received_on=TODAY), quantity=D(100), value=D(1), signed=Signed(keeper, NOW))
    [out] = ledger.use(material=resin, quantity=D(40), signed=Signed(keeper, NOW))
    undone = at_once([lambda: ledger.undo(act=out.act, signed=Signed(keeper, NOW))] * 2)
    assert sum(isinstance(one, Refused) for one in undone) == 1
    assert Material.objects.with_stock().get().on_hand == 100


@pytest.mark.django_db(transaction=True)
def test_eight_people_receive_and_use_at_random(keeper):
    shelf = [material(key) for key in ("resin", "catalyst", "cloth")]

    def work(seed: int) -> Callable[[], object]:
        dice = random.Random(seed)

        def acts() -> tuple[D, D]:
            came, went = D(0), D(0)
            for _ in range(12):
                quantity = D(dice.randint(1, 400)) / 10
                if dice.random() < 0.4:
                    ledger.receive(lot=Lot(material=dice.choice(shelf), received_on=TODAY), quantity=quantity, value=D(dice.randint(0, 999)) / 100, signed=Signed(keeper, NOW))  # fmt: skip
                    came += quantity
                else:
                    ledger.use(material=dice.choice(shelf), quantity=quantity, signed=Signed(keeper, NOW))
                    went += quantity
            return came, went

        return acts

    done = at_once([work(seed) for seed in range(8)])
    received, used = (Movement.objects.filter(kind=kind) for kind in ("receive", "use"))
    assert received.aggregate(Sum("quantity"))["quantity__sum"] == sum(came for came, _ in done)
    assert used.aggregate(Sum("quantity"))["quantity__sum"] == -sum(went for _, went in done)
    assert books.problems() == []
