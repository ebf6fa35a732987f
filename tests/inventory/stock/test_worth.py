"""What the store was worth on a past day is what was recorded by then."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal as D

import pytest
from django.urls import reverse
from django.utils import timezone

OCTOBER, NOVEMBER = datetime(2025, 10, 20, 9, tzinfo=UTC), datetime(2025, 11, 5, 9, tzinfo=UTC)


@pytest.fixture
def autumn(shelf):
    """1000 g for 5.00 in October; 300 g used and 100 g written off in November."""
    shelf.receive("1000", "5.00", received_on=OCTOBER.date(), recorded_at=OCTOBER)
    shelf.use("300", recorded_at=NOVEMBER)
    return shelf


def shown(client, query: str):
    answer = client.get(reverse("stock-worth") + query)
    assert answer.status_code == 200
    [row] = answer.context["rows"]
    assert row.opening[1] + row.received[1] + row.differences[1] == row.used[1] + row.written_off[1] + row.closing[1]
    return row


def test_a_month_opens_with_what_the_one_before_closed_at(autumn, keeper_client):
    october = shown(keeper_client, "?first=2025-10-01&last=2025-10-31")
    november = shown(keeper_client, "?first=2025-11-01&last=2025-11-30")
    assert (october.received, october.closing) == ((D(1000), D(5)), (D(1000), D(5)))
    assert (november.opening, november.used, november.closing) == (
        october.closing,
        (D(300), D("1.50")),
        (D(700), D("3.50")),
    )


def test_what_is_entered_late_for_october_does_not_change_what_october_said(autumn, keeper_client):
    autumn.use("50", happened_at=OCTOBER, recorded_at=NOVEMBER)
    assert shown(keeper_client, "?first=2025-10-01&last=2025-10-31").closing == (D(1000), D(5))


@pytest.mark.parametrize(
    "query", ["?first=2025-11-02&last=2025-11-01", "?first=soon&last=2025-11-01", "?last=2999-01-01"]
)
def test_days_that_can_not_be_are_refused_in_a_sentence(autumn, keeper_client, query):
    answer = keeper_client.get(reverse("stock-worth") + query)
    assert (answer.status_code, b"<title>Error: " in answer.content) == (422, True)


def test_counter_goods_that_sell_for_less_than_they_cost_are_pointed_out(shelf, keeper_client, bench_client):
    shelf.material.kind, shelf.material.unit = "counter", "piece"
    shelf.material.facts = {"sells_for": 17.0, "costs_to_sell": 1.5}
    shelf.material.save()
    now = timezone.now()
    shelf.receive("4", "72.00", received_on=timezone.localdate(), recorded_at=now)
    assert "€10.00" in keeper_client.get(reverse("stock-worth")).content.decode()
    page = reverse("material", args=[shelf.material.pk])
    assert "Sells for" in keeper_client.get(page).content.decode()
    assert "Sells for" not in bench_client.get(page).content.decode()
    assert bench_client.get(reverse("stock-worth")).status_code == 403
