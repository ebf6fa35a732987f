"""The sample shop's twenty fins, a few of them here.

What its hands really take is learned from what was written down.
"""

from __future__ import annotations

import pytest
from django.utils import timezone

from inventory.models import StockQuestion
from inventory.stock import books
from quotes import experience, quoting
from quotes.costing import cost_risk
from quotes.management import twenty
from quotes.management.commands.demo import in_words
from quotes.models import Job, Way
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes import club


@pytest.fixture
def told(db, monkeypatch):
    """The shop set up, the fin quoted, and six of the twenty done; when it began, and who is there."""
    monkeypatch.setattr(twenty, "JOBS", 6)
    with timezone.override("Europe/Dublin"):
        yield club.month(NOW)


def test_the_same_fin_is_quoted_before_and_after_with_both_ranges(told):
    before, jobs, people = told
    assert {job.state for job in jobs} == {Job.State.FINISHED}
    assert not StockQuestion.objects.open().exists()
    assert books.problems() == []
    row = experience.experience()
    assert (row.jobs, row.stale_since, row.notes, row.doubtful) == (6, None, [], [])
    quote = quoting.replace_quote(quote=before.board.quote, signed=Signed(people["maeve"], NOW))
    after = Way.objects.get(board__quote=quote)
    before = Way.objects.get(pk=before.pk)
    first, second = (cost_risk([way.parts.get().estimate]) for way in (before, after))
    assert before.parts.get().snapshot["experience"] is None
    assert after.parts.get().snapshot["experience"]["jobs"] == 6
    assert after.minutes > before.minutes * 1.08  # the trade said less than these hands take
    assert after.minutes < before.minutes * 1.3
    assert second.minutes.sd / second.minutes.mean < first.minutes.sd / first.minutes.mean
    assert second.cost.sd / second.cost.mean < first.cost.sd / first.cost.mean
    assert in_words(after).startswith(f"€{after.gross:.2f}, cost €{after.cost:.2f} (eight in ten: €")
    sanding = experience.own_figure("sand", "minutes")
    assert 1.1 < sanding.used < 1.35  # the truth is 1.22
    assert sanding.low < 1.22 < sanding.high
