"""What somebody's calendar reads of the shop: ready days, the bench's plan, closed days and who is away.

Of a customer it says the name and the tag of the board, nothing else; of somebody away not why. Nothing is worked out:
ready days and plan are those of the bench as it was last seen. A fixed number of queries.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from quotes.bench.job.week import WeekBoard, boards_of
from quotes.models import Job, Outlook, Step
from quotes.ready_days.outlook import outlook
from shop.business.calendar_addresses import unlike
from shop.models import Absence, ClosedDay, Profile, User
from shop.text.formats import in_ten
from shop.text.icalendar import CalendarEvent, icalendar

THE_BENCH = "The bench"  # who works where nobody has hours of their own


def shop_calendar_bytes(shop: Profile, *, at: datetime) -> bytes:
    """The calendar of the shop as RFC 5545 has it, the same bytes until the bench is seen anew. Seven queries."""
    seen, today = outlook(), shop.day_of(at)
    jobs = list(Job.objects.filter(state=Job.State.OPEN).select_related("takein__brought_by", "takein__board"))
    names = dict(User.objects.values_list("pk", "name"))
    events = [
        *_ready(boards_of(jobs, seen)),
        *_planned(seen, jobs, names),
        *_closed(ClosedDay.objects.filter(day__gte=today).values_list("day", flat=True)),
        *_away(Absence.objects.filter(last__gte=today), names),
    ]
    return icalendar(shop.name, events, at=seen.worked_at or datetime.combine(today, time.min, ZoneInfo(shop.timezone)))


def _ready(boards: Iterable[WeekBoard]) -> Iterator[CalendarEvent]:
    """An event for each board with a day: that promised, else the one that holds eight in ten."""
    for board in boards:
        if board.by == date.max:
            continue
        words = f"Promised for this day: {in_ten(board.kept.chance)}." if board.kept else "Promised for this day."
        if board.job.promised_on is None:
            words = "Eight in ten that it is ready by this day; nothing is promised."
        summary = f"Ready: tag {board.takein.tag}, {board.takein.brought_by.name}"
        yield CalendarEvent(unlike(f"ready-{board.job.pk}"), summary, board.by, board.by, words, busy=False)


def _planned(seen: Outlook, jobs: Iterable[Job], names: Mapping[int, str]) -> Iterator[CalendarEvent]:
    """The plan's steps that are still ahead, each from its moment on; a step in pieces is told piece by piece."""
    tags = {job.pk: job.takein.tag for job in jobs}
    titles = dict(Step.objects.on_the_bench().values_list("pk", "title"))
    pieces: Counter[int] = Counter()
    for row in seen.plan:
        job, step = row["job"], row["step"]
        if job not in tags or step not in titles:
            continue
        pieces[step] += 1
        begins = datetime.fromisoformat(row["from"])
        yield CalendarEvent(
            unlike(f"plan-{step}-{pieces[step]}"),
            f"{names.get(row['person'], THE_BENCH)}: {titles[step]}, tag {tags[job]}",
            begins,
            begins + timedelta(minutes=row["minutes"]),
        )


def _closed(days: Iterable[date]) -> Iterator[CalendarEvent]:
    """Closed days that follow each other as one."""
    runs: list[tuple[date, date]] = []
    for day in days:
        if runs and day - runs[-1][1] == timedelta(days=1):
            runs[-1] = (runs[-1][0], day)
        else:
            runs.append((day, day))
    for first, last in runs:
        yield CalendarEvent(unlike(f"closed-{first}"), "The shop is closed", first, last)


def _away(absences: Iterable[Absence], names: Mapping[int, str]) -> Iterator[CalendarEvent]:
    for row in absences:
        name = names.get(row.person_id, "")
        yield CalendarEvent(unlike(f"away-{row.pk}"), f"{name}: away", row.first, row.last, busy=False)
