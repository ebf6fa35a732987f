"""A stocked store, a fish with a crushed box on the rack, and a quote on it being written."""

from __future__ import annotations

import pytest

from quotes import bench as bench_verbs
from quotes import quoting
from shop.platform.acts import Refused
from tests import sample_shop
from tests.conftest import NOW
from tests.quotes import seed


def paper(content):
    """A stand-in for the paper where its looks do not matter."""
    return f"%PDF {content['number']} v{content['version']}".encode()


def refusal(act) -> dict[str, list[str]]:
    """What a verb said no with, by field."""
    with pytest.raises(Refused) as said:
        act()
    return said.value.message_dict if hasattr(said.value, "error_dict") else {"__all__": said.value.messages}


@pytest.fixture
def versions(profile):
    sample_shop.stock_the_store()
    return seed.recipes()


@pytest.fixture
def takein(counter):
    return take_in(counter)


def take_in(by, **more):
    own = {
        "brought_by": seed.customer(),
        "board": seed.fish(),
        "damages": [seed.crushed_box()],
        "checks": seed.checked(),
        "at": NOW,
    }
    return quoting.take_in(**{**own, **more}, by=by)


@pytest.fixture
def quote(takein, versions, counter):
    """A draft with two ways: a new box, and glass-on keels."""
    quote = quoting.start_quote(takeins=[takein], by=counter, at=NOW)
    board, damage = quote.boards.get(), takein.damages.get()
    one = {"board": board, "damage": damage, "by": counter, "at": NOW}
    box = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}
    quoting.add_way(version=versions["fin-box"], measures=box, **one)
    quoting.add_way(version=versions["glass-on-twin"], measures=seed.KEELS, title="Glass-on keels, both sides", **one)
    return quote


@pytest.fixture
def sent(quote, counter):
    return quoting.send_quote(quote=quote, by=counter, at=NOW, paper=paper)


@pytest.fixture
def stocked(versions, keeper):
    """Two packs of everything on the shelf."""
    seed.receive_stock(by=keeper)


@pytest.fixture
def job(sent, stocked, counter):
    """The keels agreed: a job of one repair, nothing done yet."""
    way = sent.boards.get().ways.get(position=2)
    return bench_verbs.accept_way(way=way, by=counter, at=NOW, how="at the counter")
