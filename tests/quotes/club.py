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
from shop.platform.acts import Signed


def month(now: datetime) -> tuple[Way, list[Job], dict[str, User]]:
    """The way quoted before, the jobs done since, and who works there; begun 24 days before `now`, counted at `now`."""
    day = timezone.localdate(now) - timedelta(days=24)
    opening = datetime.combine(day, time(9, 30), tzinfo=timezone.get_current_timezone())
    _, people = demo_shop.open_shop(at=opening)
    demo_shop.fill_store(signed=Signed(people["orla"], opening))
    twenty.restock(signed=Signed(people["orla"], opening))
    twenty.count_shelf(signed=Signed(people["orla"], opening))
    before = twenty.fin_quote(signed=Signed(people["maeve"], opening))
    quoting.send_quote(quote=before.board.quote, signed=Signed(people["maeve"], opening))
    jobs, unwritten = twenty.twenty_fins(by=people["maeve"], hands=people["fionn"], start=opening)
    twenty.count_shelf(signed=Signed(people["orla"], now), unwritten=unwritten)
    return before, jobs, people
