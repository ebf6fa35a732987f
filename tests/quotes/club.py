"""The demo shop’s month for the board club, told for a test.

A fin quoted, the club's fins done, the shelf counted.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django.utils import timezone

from quotes import quoting
from quotes.management import demo_shop, twenty
from quotes.models import Job, Way
from shop.models import User
from tests.quotes.benches import paper


def month(now: datetime) -> tuple[Way, list[Job], dict[str, User]]:
    """The way quoted before, the jobs done since, and who works there; begun 24 days before `now`, counted at `now`."""
    day = timezone.localdate(now) - timedelta(days=24)
    opening = datetime.combine(day, time(9, 30), tzinfo=timezone.get_current_timezone())
    _, people = demo_shop.open_shop(at=opening)
    demo_shop.fill_store(by=people["orla"], at=opening)
    twenty.restock(by=people["orla"], at=opening)
    twenty.count_shelf(by=people["orla"], at=opening)
    before = twenty.fin_quote(by=people["maeve"], at=opening)
    quoting.send_quote(quote=before.board.quote, by=people["maeve"], at=opening, paper=paper)
    jobs, unwritten = twenty.twenty_fins(by=people["maeve"], hands=people["fionn"], start=opening)
    twenty.count_shelf(by=people["orla"], at=now, unwritten=unwritten)
    return before, jobs, people
