"""Several windows send at the same moment: one number a quote, no gap, no number twice."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from quotes import quoting
from quotes.models import Document, Quote
from shop.models import NumberSeries
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes.conftest import take_in

pytestmark = pytest.mark.django_db(transaction=True)
BOX = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}


def test_every_quote_gets_one_number_and_the_numbers_have_no_gap(transactional_db, versions, counter):
    drafts = []
    for _ in range(3):
        quote = quoting.start_quote(takeins=[take_in(counter)], signed=Signed(counter, NOW))
        quoting.add_way(
            board=quote.boards.get(), version=versions["fin-box"], measures=BOX, signed=Signed(counter, NOW)
        )
        drafts.append(quote)

    def send(quote: Quote) -> str:
        try:
            return quoting.send_quote(quote=quote, signed=Signed(counter, NOW)).number
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as windows:
        numbers = list(windows.map(send, [*drafts, *drafts]))  # each from two windows
    assert numbers[:3] == numbers[3:]
    assert sorted(numbers[:3]) == [f"Q{TODAY.year}-0001", f"Q{TODAY.year}-0002", f"Q{TODAY.year}-0003"]
    assert NumberSeries.objects.get(key="quote").next_number == 4
    assert Document.objects.count() == 3
