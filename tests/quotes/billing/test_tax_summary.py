"""The tax of a period: what its papers account for, by rate and ground; months add up, wrong days are sentences."""

from __future__ import annotations

import json
from datetime import date, timedelta
from decimal import Decimal
from io import StringIO
from itertools import pairwise

import pytest
from django.core.management import CommandError, call_command

from quotes.billing.tax_summary import tax_of_period
from tests.conftest import NOW, TODAY
from tests.quotes.billing.test_billing import deposit, finished, issue, priced
from tests.quotes.billing.test_paying_back import credit
from tests.quotes.conftest import open_shop

D = Decimal
LONG_AGO = NOW - timedelta(days=70)
YEAR = (TODAY - timedelta(days=360), TODAY + timedelta(days=30))


def two_months() -> dict:
    """A deposit taken 70 days ago; its invoice, a credit of a part and a second job today."""
    made = open_shop()
    counter, bench, versions = made["counter"], made["bench"], made["versions"]
    job = priced(counter, versions, "360.00", lines=(("Fin set", "60.00", "23"),))
    deposit(job, "120.00", counter, at=LONG_AGO)
    invoice = issue(finished(job, bench, at=NOW), by=counter, at=NOW)
    credit(invoice, counter, {2: D("60.00")})
    issue(finished(priced(counter, versions, "227.00"), bench, at=NOW), by=counter, at=NOW)
    return {**made, "invoice": invoice}


@pytest.fixture
def invoice(begun):
    return begun("invoice")


BEGINS = {"invoice": two_months}
pytestmark = pytest.mark.usefixtures("standing")


def told(first: date, last: date) -> dict:
    out = StringIO()
    call_command("tax_summary", "--from", first.isoformat(), "--to", last.isoformat(), "--json", stdout=out)
    return json.loads(out.getvalue())


def test_each_rate_and_ground_has_its_sum(invoice):
    # 120.00: 20.00 at 23 % holding 3.74 and 100.00 at 13.5 % holding 11.89. The invoice: 11.22 - 3.74 and 35.68 -
    # 11.89. The second job of 227.00 holds 27.00.
    rows = tax_of_period(*YEAR)
    assert [(f"{row.percent.normalize():f}", row.cause, row.papers, row.tax) for row in rows] == [
        ("23", "sale", 1, D("7.48")),
        ("23", "deposit", 1, D("3.74")),
        ("23", "credit", 1, D("-11.22")),
        ("13.5", "sale", 2, D("50.79")),
        ("13.5", "deposit", 1, D("11.89")),
    ]
    assert all(row.net + row.tax == row.gross for row in rows)


def test_the_months_add_up_to_the_whole(invoice):
    first, last = YEAR
    cuts = [first, TODAY - timedelta(days=71), TODAY - timedelta(days=30), TODAY - timedelta(days=1), last]
    parts = [told(a + timedelta(days=1 if a != first else 0), z) for a, z in pairwise(cuts)]
    whole = told(first, last)
    for name in ("net", "tax_amount", "gross"):
        assert sum(D(part[name]) for part in parts) == D(whole[name])
    assert (whole["tax_amount"], whole["basis"], whole["currency"]) == ("62.68", "invoice", "EUR")
    assert [len(part["rows"]) for part in parts] == [0, 2, 0, 3]


def test_it_is_told_in_lines_too(invoice):
    out = StringIO()
    call_command("tax_summary", "--from", YEAR[0].isoformat(), "--to", YEAR[1].isoformat(), stdout=out)
    assert "VAT S 13.5 %, charged: net 376.21, tax 50.79, gross 427.00, 2 papers" in out.getvalue()
    assert "VAT S 23 %, deposit received: net 16.26, tax 3.74, gross 20.00, 1 paper\n" in out.getvalue()


@pytest.mark.parametrize(
    ("first", "last", "sentence"),
    [
        ("2026-11-30", "2026-11-01", "before --from 2026-11-30"),
        ("2026-13-01", "2026-11-01", "--from is 2026-13-01, which is no day"),
        ("2026-11-01", "yesterday", "--to is yesterday, which is no day"),
    ],
)
def test_a_period_that_is_none_is_a_sentence(invoice, first, last, sentence):
    with pytest.raises(CommandError, match=sentence):
        call_command("tax_summary", "--from", first, "--to", last)
