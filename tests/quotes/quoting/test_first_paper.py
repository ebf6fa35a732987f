"""What is settled by the first paper that is given out: the shop's address is on it, and its currency stays."""

from __future__ import annotations

import pytest
from django.urls import reverse

from quotes import quoting
from quotes.models import Payment, Quote
from shop.business import shop_settings
from shop.models import Profile
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes.conftest import refusal

STAYS = "The currency stays: something was given out or agreed in it."


def change(keeper, currency="NZD"):
    return shop_settings.change_profile(signed=Signed(keeper, NOW), currency=currency)


def test_drafts_are_worked_out_again_in_the_new_currency(quote, keeper):
    before = [(way.gross, way.totals["document"]["currency"]) for way in quoting.ways_of(quote)]
    assert {currency for _, currency in before} == {"EUR"}
    change(keeper)
    after = [(way.gross, way.totals["document"]["currency"]) for way in quoting.ways_of(quote)]
    assert after == [(gross, "NZD") for gross, _ in before], "the same figures, in another money"
    sent = quoting.send_quote(quote=quote, signed=Signed(keeper, NOW))
    assert sent.document.content["currency"] == "NZD"


def test_a_quote_given_out_settles_the_currency(sent, keeper):
    assert refusal(lambda: change(keeper)) == {"currency": [STAYS]}
    assert Profile.objects.get().currency == "EUR"


def test_a_spoken_yes_to_a_draft_settles_the_currency_too(quote, keeper):
    way = quote.boards.get().ways.get(position=1)
    quoting.agree(way=way, signed=Signed(keeper, NOW), how="at the counter", spoken=True)
    assert Quote.objects.get().document is None
    assert refusal(lambda: change(keeper)) == {"currency": [STAYS]}


def test_a_draft_that_was_declined_settles_nothing(quote, keeper):
    quoting.decline_quote(quote=quote, reason="no reason given", signed=Signed(keeper, NOW))
    assert change(keeper).currency == "NZD"


@pytest.fixture
def nowhere(profile):
    Profile.objects.update(address="  ")


def test_without_an_address_no_quote_goes_out_and_its_page_says_so_before(nowhere, quote, keeper, keeper_client):
    page = keeper_client.get(reverse("quote", args=[quote.pk])).content.decode()
    assert "address is missing" in page
    here = reverse("quote", args=[quote.pk])
    assert f'action="{reverse("shop-address")}?from={here}"' in page
    said = refusal(lambda: quoting.send_quote(quote=quote, signed=Signed(keeper, NOW)))
    assert "address is missing, which quotes and invoices must carry" in said["__all__"][0]
    Profile.objects.update(address="3 Strand Row")
    assert quoting.send_quote(quote=quote, signed=Signed(keeper, NOW)).number
    assert "address is missing" not in keeper_client.get(reverse("quote", args=[quote.pk])).content.decode()


def test_the_address_is_typed_where_it_is_missing_and_leads_back_there(nowhere, quote, keeper_client, form_key):
    here, where = reverse("quote", args=[quote.pk]), reverse("shop-address")
    empty = keeper_client.post(f"{where}?from={here}", {"address": " ", "submission_key": form_key()})
    assert empty.status_code == 422
    assert "Address is" in empty.content.decode()
    kept = keeper_client.post(f"{where}?from={here}", {"address": "3 Strand Row", "submission_key": form_key()})
    assert kept.url == here
    assert Profile.objects.get().address == "3 Strand Row"
    away = keeper_client.post(f"{where}?from=//elsewhere.example/", {"address": "4", "submission_key": form_key()})
    assert away.url == reverse("shop"), "only ever to a page of ours"


def test_without_an_address_no_invoice_goes_out(versions, counter, counter_client, bench):
    from tests.quotes.billing.test_billing import finished, issue, priced

    job = finished(priced(counter, versions, "485.00"), bench)
    Profile.objects.update(address="")
    page = counter_client.get(reverse("invoice-issue", args=[job.pk])).content.decode()
    assert "address is missing" in page
    assert reverse("shop-address") not in page, "only the keeper can give it"
    assert "address is missing" in str(refusal(lambda: issue(job, by=counter)))
    assert not Payment.objects.exists()
    Profile.objects.update(address="3 Strand Row")
    assert issue(job, by=counter).frozen["seller"]["address"] == "3 Strand Row"
