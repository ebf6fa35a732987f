"""A whole job in a store that nobody has counted: no warning and no question anywhere; after a count as before."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.catalogue.starting import load_starting_materials
from inventory.counting import opening
from inventory.models import Material, StockQuestion
from inventory.stock import books
from quotes import bench, quoting
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes import seed
from tests.quotes.benches import work_through
from tests.quotes.conftest import take_in

pytestmark = pytest.mark.django_db
BOX = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}
SHOUTS = (
    "Will not be there",
    "will be missing",
    " short",
    "note warning",
    "Where did",
    "none left",
    "question between",
)


def shouted(client, job) -> list[tuple[str, str]]:
    """What the pages of a job's whole way say of the store, with the page that says it."""
    quote = job.way.board.quote
    pages = [("rack", []), ("job", [job.pk]), ("store", []), ("buy-list", []), ("plan", []), ("questions", []),
             ("quote", [quote.pk]), *(("step", [step.pk]) for step in job.steps.all())]  # fmt: skip
    found = []
    for name, args in pages:
        main = client.get(reverse(name, args=args)).content.decode().partition("<main")[2]
        found += [(name, word) for word in SHOUTS if word in main]
    return found


def a_job(by, versions):
    quote = quoting.start_quote(takeins=[take_in(by)], signed=Signed(by, NOW))
    quoting.add_way(board=quote.boards.get(), version=versions["fin-box"], measures=BOX, signed=Signed(by, NOW))
    sent = quoting.send_quote(quote=quote, signed=Signed(by, NOW))
    return bench.accept_way(way=sent.boards.get().ways.get(), signed=Signed(by, NOW), how="at the counter")


def test_a_whole_job_in_an_uncounted_store_is_never_shouted_at(keeper, keeper_client):
    load_starting_materials(currency="EUR")
    job = a_job(keeper, seed.recipes())
    assert shouted(keeper_client, job) == []
    work_through(job, keeper)
    assert sum(use.cost for step in job.steps.all() for use in step.uses.all()) > 0  # costed at its price
    assert shouted(keeper_client, job) == []
    assert not StockQuestion.objects.exists()
    assert books.problems() == []


def test_after_an_opening_count_the_next_job_is_warned_of_as_before(keeper, keeper_client):
    load_starting_materials(currency="EUR")
    versions = seed.recipes()
    a_job(keeper, versions)
    there = dict.fromkeys(Material.objects.all(), Decimal(0))
    opening.opening_count(there=there, untracked=[], signed=Signed(keeper, NOW))
    job = a_job(keeper, versions)
    said = shouted(keeper_client, job)
    for one in (("job", "Will not be there"), ("step", "will be missing"), ("rack", " short"), ("store", "none left")):
        assert one in said
    bench.use_as_planned(
        step=job.steps.filter(uses=None).exclude(plan__materials=[]).first(), signed=Signed(keeper, NOW)
    )
    assert StockQuestion.objects.open().exists()
    assert books.problems() == []
