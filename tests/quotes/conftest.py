"""A stocked store, a fish with a crushed box on the rack, and a quote on it being written."""

from __future__ import annotations

import pytest

from inventory.models import Pack
from quotes import bench as bench_verbs
from quotes import quoting
from shop.models import Role
from shop.platform.acts import Refused, Signed
from tests import sample_shop
from tests.conftest import NOW, make_user
from tests.quotes import seed


def refusal(act) -> dict[str, list[str]]:
    """What a verb said no with, by field."""
    with pytest.raises(Refused) as said:
        act()
    return said.value.message_dict if hasattr(said.value, "error_dict") else {"__all__": said.value.messages}


@pytest.fixture
def versions(profile, begun):
    return begun("versions") or stocked_recipes()


def stocked_recipes():
    sample_shop.stock_the_store()
    return seed.recipes()


@pytest.fixture
def takein(counter, begun):
    return begun("takein") or take_in(counter)


def take_in(by, **more):
    own = {
        "brought_by": seed.customer(),
        "board": seed.fish(),
        "damages": [seed.crushed_box()],
        "checks": seed.checked(),
    }
    at = more.pop("at", NOW)
    return quoting.take_in(**{**own, **more}, signed=Signed(by, at))


@pytest.fixture
def quote(takein, versions, counter, begun):
    """A draft with two ways: a new box, and glass-on keels."""
    return begun("quote") or two_ways(takein, versions, counter)


def two_ways(takein, versions, counter):
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    board, damage = quote.boards.get(), takein.damages.get()
    one = {"board": board, "damage": damage, "signed": Signed(counter, NOW)}
    box = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}
    quoting.add_way(version=versions["fin-box"], measures=box, **one)
    quoting.add_way(version=versions["glass-on-twin"], measures=seed.KEELS, title="Glass-on keels, both sides", **one)
    return quote


@pytest.fixture
def sent(quote, counter, begun):
    return begun("sent") or quoting.send_quote(quote=quote, signed=Signed(counter, NOW))


@pytest.fixture
def stocked(versions, keeper, begun):
    """Two packs of everything on the shelf."""
    if begun("packs") is None:
        seed.receive_stock(by=keeper)


@pytest.fixture
def job(sent, stocked, counter, begun):
    """The keels agreed: a job of one repair, nothing done yet."""
    return begun("job") or keels_agreed(sent, counter)


def keels_agreed(sent, counter):
    way = sent.boards.get().ways.get(position=2)
    return bench_verbs.accept_way(way=way, signed=Signed(counter, NOW), how="at the counter")


# For the BEGINS of a module: the same, made once for all of its tests that begin so.


def open_shop() -> dict:
    """The sample shop with its people and its recipes, nothing on the shelf."""
    profile, people = sample_shop.make_profile(), {role.value: make_user(role) for role in Role}
    return {"profile": profile, **people, "versions": stocked_recipes()}


def with_stock() -> dict:
    made = open_shop()
    seed.receive_stock(by=made["keeper"])
    return {**made, "packs": list(Pack.objects.all())}


def with_two_ways(made: dict | None = None) -> dict:
    made = made or open_shop()
    takein = take_in(made["counter"])
    return {**made, "takein": takein, "quote": two_ways(takein, made["versions"], made["counter"])}


def with_keels_agreed() -> dict:
    made = with_two_ways(with_stock())
    sent = quoting.send_quote(quote=made["quote"], signed=Signed(made["counter"], NOW))
    return {**made, "sent": sent, "job": keels_agreed(sent, made["counter"])}
