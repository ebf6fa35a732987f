"""A first price without a typed one: guesses that say so, one sheet to type prices on, and each missing thing once."""

from __future__ import annotations

import io
import json
import re
from decimal import Decimal as D
from pathlib import Path

import pytest
from django.core.management import call_command
from django.urls import reverse
from pypdf import PdfReader

from inventory.catalogue.starting import load_starting_materials
from inventory.models import Material, Pack, PackPrice, Supplier
from quotes import pricelist, quoting
from quotes.costing import Snapshot, guessed
from quotes.models import Document, Quote
from quotes.pricelist import load_starting_rows
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.conftest import take_in
from tests.walker import new_key

pytestmark = pytest.mark.django_db
SNAPSHOTS = Path(__file__).parents[2] / "costing" / "snapshots"
BOX = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}


def new_shop(currency: str = "EUR") -> dict:
    """A store and recipes as on the first day."""
    load_starting_materials(currency=currency)
    return seed.recipes()


def a_draft(by, versions, *ways: str) -> Quote:
    quote = quoting.start_quote(takeins=[take_in(by)], signed=Signed(by, NOW))
    for key in ways or ("fin-box",):
        quoting.add_way(board=quote.boards.get(), version=versions[key], measures=BOX, signed=Signed(by, NOW))
    return quote


def the_way(quote: Quote):
    return quote.boards.get().ways.first()


def page_of(client, name: str, *args) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200
    return answer.content.decode()


def send(client, name: str, *args, **entries):
    return client.post(reverse(name, args=args), {"submission_key": new_key(), **entries})


@pytest.fixture
def first_day(profile):
    return new_shop()


@pytest.fixture
def no_guesses(profile):
    return new_shop("BHD")


class TestGuesses:
    def test_a_new_shop_prices_at_once_and_says_to_the_shop_what_rests_on_guesses(
        self, counter, counter_client, first_day
    ):
        quote = a_draft(counter, first_day)
        way = the_way(quote)
        assert way.problems == []
        assert way.gross > 0
        snapshot = way.parts.get().snapshot
        lines = [line for line in snapshot["lines"] if line["material"]]
        found = guessed([way.parts.get().estimate])
        keys = {line["material"] for line in lines}
        assert (found.materials, found.on_guess) == (keys, keys)
        assert found.cost == pytest.approx(sum(line["cost"] for line in lines))
        words = f"{len(keys)} of {len(keys)} prices are guesses, €{found.cost:.2f} of the cost"
        assert words in page_of(counter_client, "quote", quote.pk)
        assert "a guess: " in page_of(counter_client, "way-why", way.pk)

    def test_one_said_price_is_one_guess_less(self, counter, counter_client, first_day):
        quote = a_draft(counter, first_day)
        resin = Material.objects.get(key="resin-lam")
        before = guessed([the_way(quote).parts.get().estimate])
        send(counter_client, "quote-price-sheet", quote.pk, **{f"pack_{resin.pk}": "10 kg", f"price_{resin.pk}": "90"})
        after = guessed([the_way(quote).parts.get().estimate])
        assert after.on_guess == before.on_guess - {"resin-lam"}
        assert after.materials == before.materials

    def test_the_customer_is_told_nothing_of_it(self, counter, counter_client, first_day):
        quote = a_draft(counter, first_day)
        assert "guess" not in page_of(counter_client, "quote-customer", quote.pk)
        sent = quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
        text = "".join(one.extract_text() for one in PdfReader(io.BytesIO(bytes(sent.document.pdf))).pages)
        assert "fin box" in text.lower()
        assert "guess" not in text.lower()
        assert "guess" not in str(Document.objects.get(pk=sent.document.pk).content).lower()
        load_starting_rows()
        assert "guess" not in page_of(counter_client, "price-list-web")

    def test_recipe_price_list_quick_job_and_command_say_it(self, keeper_client, first_day, capsys):
        assert re.search(r"(\d+) of \1 prices are guesses, €\d", page_of(keeper_client, "recipe", "fin-box"))
        load_starting_rows()
        assert re.search(r"(\d+) of \1 prices are guesses, at most €\d", page_of(keeper_client, "price-list"))
        measures = {f"m_{name}": f"{value} mm" for name, value in BOX.items()}
        told = {"board_core": "pu", "board_resin": "polyester", "customer": "", "method": "cash", "price_by_hand": "",
                "price_reason": "", "recipe": "fin-box"}  # fmt: skip
        shown = send(keeper_client, "quick", **measures, **told)
        assert "prices are guesses" in shown.content.decode()
        call_command("price", "fin-box", *(f"--measure={name}={value} mm" for name, value in BOX.items()))
        assert re.search(r"(\d+) of \1 prices are guesses, \d+\.\d\d of it", capsys.readouterr().out)

    def test_a_snapshot_from_before_guesses_has_none(self):
        kept = json.loads((SNAPSHOTS / "79e88cd-doses-apart.json").read_text(encoding="utf-8"))
        assert not any("guess" in line["unit_cost"] for line in kept["lines"])
        assert guessed([Snapshot.from_json(kept)]).words == ""


class TestSheet:
    def test_prices_typed_together_are_packs_of_one_supplier_and_the_draft_is_worked_out(
        self, counter, counter_client, no_guesses
    ):
        quote = a_draft(counter, no_guesses)
        assert the_way(quote).gross is None
        page = counter_client.get(reverse("quote-price-sheet", args=[quote.pk]))
        rows = [one["row"].material for one in page.context["rows"]]
        entries = {"supplier": "Headland Stores"}
        for row in rows:
            entries |= {f"pack_{row.pk}": {"g": "1 kg", "mL": "1 L", "m": "50 m", "m2": "20 m2"}.get(row.unit, "10"),
                        f"price_{row.pk}": "20"}  # fmt: skip
        answer = send(counter_client, "quote-price-sheet", quote.pk, **entries)
        assert answer.url == reverse("quote", args=[quote.pk])
        way = the_way(quote)
        assert way.problems == []
        assert way.gross > 0
        assert {pack.supplier.name for pack in Pack.objects.all()} == {"Headland Stores"}
        assert Pack.objects.filter(preferred=True).count() == PackPrice.objects.count() == len(rows)

    def test_what_is_left_empty_stays_and_the_supplier_may_be_said_later(self, counter, counter_client, first_day):
        quote = a_draft(counter, first_day)
        rag = Material.objects.get(key="rag")
        page = counter_client.get(reverse("quote-price-sheet", args=[quote.pk]))
        untouched = {f"pack_{one['row'].material.pk}": one["row"].words for one in page.context["rows"]}
        send(counter_client, "quote-price-sheet", quote.pk, **{**untouched, f"price_{rag.pk}": "18.50"})
        pack = Pack.objects.get()
        assert (pack.words, pack.content, pack.supplier.name) == ("bag of 100 rags", D(100), "not said yet")
        assert pack.prices.get().price == D("18.5")
        again = counter_client.get(reverse("quote-price-sheet", args=[quote.pk])).context
        assert rag not in [one["row"].material for one in again["rows"]]
        assert [one["material"] for one in again["known"]] == [rag]

    def test_a_price_for_a_pack_that_is_known_goes_to_it(self, counter, counter_client, no_guesses):
        quote, rag = a_draft(counter, no_guesses), Material.objects.get(key="rag")
        supplier = Supplier.objects.create(name="Dunlin")
        pack = Pack.objects.create(material=rag, supplier=supplier, words="bale of 80", content=D(80), preferred=True)
        send(counter_client, "quote-price-sheet", quote.pk,
             **{f"pack_{rag.pk}": "bale of 80", f"price_{rag.pk}": "19", "supplier": "Another"})  # fmt: skip
        assert Pack.objects.get() == pack
        assert pack.prices.get().price == D(19)

    def test_a_pack_that_can_not_be_read_keeps_all_that_was_typed_and_stores_nothing(
        self, counter, counter_client, no_guesses
    ):
        quote, rag = a_draft(counter, no_guesses), Material.objects.get(key="rag")
        acetone = Material.objects.get(key="acetone")
        entries = {f"pack_{rag.pk}": "a heap", f"price_{rag.pk}": "19", f"price_{acetone.pk}": "22"}
        answer = send(counter_client, "quote-price-sheet", quote.pk, **entries)
        text = answer.content.decode()
        assert answer.status_code == 422
        assert "Pack of Rag" in text
        assert 'value="a heap"' in text
        assert "Pack of Acetone is empty" in text
        assert not Pack.objects.exists()

    def test_it_says_what_each_price_moves_in_the_way_that_takes_most(self, counter, counter_client, first_day):
        quote = a_draft(counter, first_day, "fin-box", "fin-box")
        page = counter_client.get(reverse("quote-price-sheet", args=[quote.pk]))
        lines = the_way(quote).parts.get().snapshot["lines"]
        for one in page.context["rows"]:
            cost = sum(line["cost"] for line in lines if line["material"] == one["row"].material.key)
            assert one["rests"].cost == pytest.approx(cost)
            assert one["where"] == "in 2 of 2 ways"
        costs = [one["rests"].cost for one in page.context["rows"]]
        assert costs == sorted(costs, reverse=True)

    def test_the_sheet_of_all_recipes_names_every_material_they_take(self, counter_client, no_guesses):
        rows = counter_client.get(reverse("price-sheet")).context["rows"]
        assert len(rows) >= 45  # 51 starting materials, less what no recipe takes on its reference board

    def test_looking_at_it_writes_nothing(self, counter, counter_client, first_day):
        quote = a_draft(counter, first_day)
        before = the_way(quote).parts.get().snapshot
        Material.objects.filter(key="resin-lam").update(guess_price=D(400))
        for name, args in (("quote-price-sheet", [quote.pk]), ("quote", [quote.pk]), ("price-sheet", [])):
            page_of(counter_client, name, *args)
        assert the_way(quote).parts.get().snapshot == before

    def test_a_sent_quote_stays_as_it_is(self, counter, counter_client, first_day):
        quote = quoting.send_quote(quote=a_draft(counter, first_day), signed=Signed(counter, NOW))
        gross, rag = the_way(quote).gross, Material.objects.get(key="rag")
        send(counter_client, "quote-price-sheet", quote.pk, **{f"pack_{rag.pk}": "1", f"price_{rag.pk}": "500"})
        assert Pack.objects.exists()
        assert the_way(quote).gross == gross

    def test_every_draft_that_rests_on_the_price_is_worked_out(self, counter, counter_client, first_day):
        one, other = a_draft(counter, first_day), a_draft(counter, first_day)
        before, rag = the_way(other).cost, Material.objects.get(key="rag")
        send(counter_client, "quote-price-sheet", one.pk, **{f"pack_{rag.pk}": "1", f"price_{rag.pk}": "50"})
        assert the_way(other).cost > before

    def test_a_shop_without_guesses_gets_them_by_a_button(self, keeper, keeper_client, no_guesses):
        assert "Put in guesses" in page_of(keeper_client, "price-sheet")
        send(keeper_client, "guesses-fill")
        assert Material.objects.filter(guess_price__isnull=False).count() == 51
        assert "Put in guesses" not in page_of(keeper_client, "price-sheet")


class TestMissingOnce:
    def test_a_price_is_missing_once_however_many_steps_and_ways_ask_for_it(self, counter, counter_client, no_guesses):
        quote = a_draft(counter, no_guesses, "fin-box", "fin-box")
        problems = [problem for way in quote.boards.get().ways.all() for problem in way.problems]
        names = {problem["text"] for problem in problems}
        assert len(problems) > len(names) + 10
        page = page_of(counter_client, "quote", quote.pk)
        assert page.count("prices missing: ") == 1
        assert f"{len(names)} prices missing: " in page
        assert "has no price" not in page

    def test_it_counts_down_as_prices_come_in_and_asks_for_none_at_the_end(
        self, keeper, keeper_client, counter, no_guesses
    ):
        quote = a_draft(counter, no_guesses)
        asked = {problem["fix"].removeprefix("material:") for problem in the_way(quote).problems}
        supplier = Supplier.objects.create(name="Dunlin")
        for left, material in zip(range(len(asked) - 1, -1, -1), Material.objects.filter(key__in=asked), strict=True):
            pack = Pack.objects.create(material=material, supplier=supplier, words="one", content=D(1))
            PackPrice.objects.create(pack=pack, price=D(1), from_day=TODAY)
            page = page_of(keeper_client, "quote", quote.pk)
            assert (f"{left} price{'s' if left > 1 else ''} missing: " in page) == bool(left)
        assert "The prices that were missing are there now." in page
        send(keeper_client, "quote-work-out", quote.pk)
        assert the_way(quote).gross > 0

    def test_recipe_quick_job_list_and_command_say_it_once(self, keeper_client, no_guesses, capsys):
        assert page_of(keeper_client, "recipe", "fin-box").count(" prices missing: ") == 1
        load_starting_rows()
        assert page_of(keeper_client, "price-list").count(" prices missing: ") == 1
        with pytest.raises(SystemExit):
            call_command("price", "fin-box", *(f"--measure={name}={value} mm" for name, value in BOX.items()))
        assert len(capsys.readouterr().err.strip().splitlines()) == 1

    def test_the_list_says_other_things_beside_the_rows_they_are_about(self, keeper_client, keeper, first_day):
        load_starting_rows()
        Material.objects.filter(key="leash-plug").update(retired_at=NOW)
        page = page_of(keeper_client, "price-list")
        assert page.count("is retired: choose another material") == 1
        assert pricelist.price_list(day=TODAY).lines
