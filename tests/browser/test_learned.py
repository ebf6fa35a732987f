"""The same fin quoted before and after twenty finished jobs, read on a phone: both prices, both ranges, and why."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from quotes import experience, quoting
from quotes.costing import cost_risk
from quotes.costing.why.buildup import factor_node
from quotes.management import demo_shop
from quotes.models import Way
from shop.platform.acts import Signed
from tests.quotes import club

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def quoted_twice(live_server):
    """The way before, the way after, and the keeper; twenty jobs lie between them."""
    with timezone.override(demo_shop.PROFILE["timezone"]):
        now = timezone.localtime()
        before, _, people = club.month(now)
        quote = quoting.replace_quote(quote=before.board.quote, signed=Signed(people["maeve"], now))
        quoting.send_quote(quote=quote, signed=Signed(people["maeve"], now))
    return Way.objects.get(pk=before.pk), Way.objects.get(board__quote=quote), people["orla"]


def test_the_same_fin_before_and_after_twenty_jobs(page, quiet, live_server, log_in, quoted_twice):
    before, after, keeper = quoted_twice
    log_in(page, keeper)
    assert after.gross > before.gross
    for way, said in (
        (before, "Worked out by trade defaults"),
        (after, r"Worked out by what this shop had learned from 20 finished jobs: \d+ logs and \d+ counts\."),
    ):
        page.goto(f"{live_server.url}/way/{way.pk}/sure/")
        main = page.locator("main")
        expect(main).to_contain_text(re.compile(said))
        cost = cost_risk([way.parts.get().estimate]).cost
        expect(main).to_contain_text(f"{cost.quantile(0.1):.2f} and {cost.quantile(0.9):.2f}")
    widths = [cost_risk([way.parts.get().estimate]).cost for way in (before, after)]
    assert widths[1].sd / widths[1].mean < widths[0].sd / widths[0].mean

    page.goto(f"{live_server.url}/way/{after.pk}/why/")
    step = page.locator("details", has_text="Abrade the landing area").first
    step.locator("summary").first.click()
    hands = step.locator("details", has_text="Hands-on time").first
    hands.locator("summary").first.click()
    factor = hands.locator("details", has_text="Really used over planned").first
    factor.locator("summary").first.click()
    figure = experience.own_figure("sand", "minutes")
    lines = after.parts.get().estimate.lines
    used = next(line.factor for line in lines if (line.operation, line.kind) == ("sand", "labour"))
    expect(factor).to_contain_text(factor_node(used).how)  # setting up and the rate, as this fin has them
    assert used.learned.logs == figure.logs
    expect(factor).to_contain_text("Trade default")
    expect(factor).to_contain_text("This shop’s own figure")
    expect(factor).to_contain_text(f"learned from {figure.logs} logs")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
