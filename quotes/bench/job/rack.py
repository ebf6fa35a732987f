"""The rack: the boards in the shop, grouped by what each one waits for. Reading only, in a fixed number of queries.

Idea: a job whose next step may be begun wants hands; one whose next steps all wait for resin or foam is curing; what
turned up waits for the counter or for the customer. A board without a job waits for its price or for an answer.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TypedDict

from django.db.models import FloatField, Prefetch
from django.db.models.fields.json import KT
from django.db.models.functions import Cast

from quotes.bench.job.calls import Rung, last_rung
from quotes.bench.job.charges import Due, dues
from quotes.bench.plan.chances import Chances, KeptChance, chance_of
from quotes.bench.plan.looking import DRYING, refused_alone
from quotes.bench.plan.order import late, next_step, waits
from quotes.bench.plan.reserving import in_short, short_steps
from quotes.bench.plan.warmth import temperature_now
from quotes.bench.steps.words import clock_words
from quotes.costing import Now, PlannedStep
from quotes.costing.snapshot import Does, PlannedMix
from quotes.models import Damage, Extra, Job, Quote, QuoteBoard, Step, TakeIn, Way
from quotes.quoting import conditions_now, shop_day
from shop.models import Board, Profile

HANDS, CURING, ANSWER, PRICE, READY = "hands", "curing", "answer", "price", "ready"
TITLES = {
    HANDS: "Hands wanted now",
    CURING: "Curing",
    ANSWER: "Waiting for an answer",
    PRICE: "To be priced",
    READY: "Ready to collect",
}
NOTHING_THERE = {
    HANDS: "No board wants hands now.",
    CURING: "Nothing is curing.",
    ANSWER: "Nobody owes an answer.",
    PRICE: "Every board has its price.",
    READY: "Nothing waits to be collected.",
}
NOTHING_KNOWN: Chances = {}
STEP_COLUMNS = ("job", "part", "serves", "position", "operation", "title", "state", "earliest_at", "latest_at")
PLANNED = {  # read out of a step's plan, which is long
    "plan_minutes": Cast(KT("plan__minutes"), FloatField()),
    "plan_wait_h": Cast(KT("plan__earliest_start_h"), FloatField()),
    "plan_puts": KT("plan__does__puts"),
    "plan_system": KT("plan__mixes__0__system"),
}


class _OfAJob(TypedDict):
    """What all bars of a job have in common."""

    takein: TakeIn
    job: Job
    page: str
    pk: int
    done: int
    total: int
    by: date | None
    late: bool


class _OfAQuote(TypedDict):
    """What all bars of a board without a job have in common."""

    takein: TakeIn
    by: date | None
    late: bool


@dataclass(frozen=True)
class RackBar:
    """One board on the rack: where it stands, and what a tap opens."""

    group: str
    takein: TakeIn
    words: str
    page: str
    pk: int
    order: tuple[object, ...]
    job: Job | None = None
    done: int = 0
    total: int = 0
    doing: bool = False
    also: str = ""
    short: str = ""
    refused: str = ""
    by: date | None = None
    late: bool = False
    chance: KeptChance | None = None  # that the day promised is kept, as last worked out
    due: Due | None = None
    due_above: bool = False  # of a joint invoice: a bar above says how much
    least: Decimal | None = None
    most: Decimal | None = None
    ways: int = 0
    rung: Rung | None = None

    @property
    def board(self) -> Board:
        return self.takein.board

    @property
    def name(self) -> str:
        return f"{self.takein.brought_by.name}, {self.takein.board.name}"

    @property
    def with_tags(self) -> str:
        """The tags of the other boards on its invoice: tag 002, tags 002, 003."""
        tags = [tag for tag in self.due.tags if tag != self.takein.tag] if self.due else []
        return f"tag{'s' if len(tags) > 1 else ''} {', '.join(tags)}"

    @property
    def damages(self) -> Sequence[Damage]:
        return list(self.takein.damages.all())


@dataclass
class Group:
    """Boards that wait for the same thing, the most pressing first."""

    key: str
    bars: list[RackBar] = field(default_factory=list)

    @property
    def title(self) -> str:
        return TITLES[self.key]

    @property
    def empty(self) -> str:
        return NOTHING_THERE[self.key]


def on_the_rack(
    at: datetime, *, money: bool, profile: Profile | None = None, chances: Chances = NOTHING_KNOWN
) -> list[Group]:
    """All boards in the shop in their groups; amounts only if `money`. `chances` that a day is kept, by job."""
    groups = {key: Group(key) for key in TITLES}
    today = shop_day(at, profile)
    due = dues(Job.objects.filter(state__in=Job.TO_COLLECT)) if money else {}
    here = list(_here())
    on_the_bench = [job for takein in here for job in takein.jobs.all() if job.on_the_bench]
    short = short_steps(on_the_bench, today=today)
    rung = last_rung(here)
    profile, warmth = profile or Profile.objects.get(), temperature_now(today)
    for takein in here:
        open_jobs = [job for job in takein.jobs.all() if job.state != Job.State.PICKED_UP]
        bars = [_job_bar(takein, job, at, today, due) for job in open_jobs] or [_quote_bar(takein, money, today)]
        for bar in bars:
            job = bar.job
            if job is not None and job.on_the_bench:
                bar = replace(bar, short=in_short(short.get(job.pk, ()), today), chance=chance_of(job, chances))
                bar = replace(bar, refused=_refused(job, at, conditions_now(takein, profile, warmth)))
            groups[bar.group].bars.append(replace(bar, rung=rung.get(takein.pk)))
    for group in groups.values():
        group.bars.sort(key=lambda bar: bar.order)
    groups[READY].bars = list(_each_sum_once(groups[READY].bars))
    return list(groups.values())


def steps_by_job(groups: Iterable[Group]) -> dict[int, list[Step]]:
    """Steps of the jobs on the bench, by job, as they were read for the rack. No query."""
    jobs = (bar.job for group in groups for bar in group.bars)
    return {job.pk: list(job.steps.all()) for job in jobs if job is not None and job.on_the_bench}


def promised_this_week(groups: Iterable[Group], today: date) -> list[RackBar]:
    """Jobs on the bench that are promised until Sunday, and those whose day is past, the first day first."""
    sunday = today + timedelta(days=6 - today.weekday())
    bars = [bar for group in groups for bar in group.bars if bar.job and bar.job.on_the_bench]
    return sorted((bar for bar in bars if bar.by and bar.by <= sunday), key=lambda bar: (bar.by, bar.takein.tag))


def _each_sum_once(bars: Iterable[RackBar]) -> Iterator[RackBar]:
    """What is open on a joint invoice is said on the first of its boards; the others say which invoice it is."""
    said: set[str] = set()
    for bar in bars:
        joint = bar.due.joint if bar.due else ""
        yield replace(bar, due_above=joint in said)
        said |= {joint} - {""}


def _here() -> Iterable[TakeIn]:
    """Every board in the shop with all that its bar shows, in seven queries."""
    steps = Step.objects.exclude(state=Step.State.DROPPED).only(*STEP_COLUMNS).annotate(**PLANNED).order_by("position")
    extras = Extra.objects.filter(state__in=Extra.UNANSWERED).order_by("pk")
    jobs = Job.objects.select_related("way").defer("way__totals", "way__problems", "way__steps", "release_check")
    jobs = jobs.prefetch_related(Prefetch("steps", steps), Prefetch("extras", extras, to_attr="unanswered"))
    ways = Way.objects.only("board", "gross", "title")
    quoted = QuoteBoard.objects.select_related("quote").prefetch_related(Prefetch("ways", ways))
    return (
        TakeIn.objects.filter(gone_at__isnull=True)
        .select_related("board", "brought_by")
        .prefetch_related("damages", Prefetch("jobs", jobs), Prefetch("quoted", quoted))
    )


def _refused(job: Job, at: datetime, now: Now) -> str:
    """Why the next step must not be done to the board as it is now, from what its plan says of itself."""
    steps = list(job.steps.all())
    step = next_step(steps, at)
    if step is None:
        return ""
    puts, system = step.plan_puts, step.plan_system  # type: ignore[attr-defined]
    puts = json.loads(puts) if isinstance(puts, str) else puts
    does = None if puts is None else Does(tuple(puts))
    plan = PlannedStep(step.operation, mixes=(PlannedMix(system),) if system else (), does=does)
    dried = any(each.operation in DRYING and each.state == Step.State.DONE for each in steps)
    return next((refusal.text for refusal in refused_alone(plan, now, dried=dried)), "")


def _job_bar(takein: TakeIn, job: Job, at: datetime, today: date, due: dict[int, Due]) -> RackBar:
    steps = list(job.steps.all())
    done = sum(step.state == Step.State.DONE for step in steps)
    step = next_step(steps, at)
    far = job.promised_on or date.max
    own: _OfAJob = {
        "takein": takein, "job": job, "page": "job", "pk": job.pk, "done": done, "total": len(steps), "by": job.promised_on,
        "late": far < today,
    }  # fmt: skip
    if job.state != Job.State.OPEN:
        words = "Stopped after opening" if job.state == Job.State.STOPPED else "Finished, ready to collect"
        return RackBar(READY, words=words, due=due.get(job.pk), order=(job.finished_at,), **own)
    found = {extra.state: extra for extra in reversed(job.unanswered)}  # type: ignore[attr-defined]
    asked, noted = found.get(Extra.State.PRICED), found.get(Extra.State.FOUND)
    also = "An extra waits for an answer" if asked else "Something turned up, to be priced" if noted else ""
    pressing = step is not None and (step.state == Step.State.DOING or (step.latest_at and not waits(step, at)))
    if not pressing and asked:
        return RackBar(ANSWER, words=f"Extra: {asked.words}", order=(1, asked.found_at), **own)
    if not pressing and noted:
        return RackBar(PRICE, words=f"Turned up: {noted.words}", order=(far, noted.found_at), **own)
    if step is None:
        return RackBar(HANDS, words="Release check", also=also, order=(far, far, job.pk), **own)
    if waits(step, at):
        words = f"{step.title} from {_when(step.earliest_at, today)}"
        return RackBar(CURING, words=words, also=also, order=(step.earliest_at,), **own)
    words = step.title
    if late(step, at):
        words = f"Window over, sand first: {step.title}"
    elif step.latest_at:
        words = f"{step.title}, by {_when(step.latest_at, today)}"
    ends = shop_day(step.latest_at) if step.latest_at else date.max
    own["page"], own["pk"] = "step", step.pk
    return RackBar(HANDS, words=words, also=also, doing=True, order=(ends, far, job.pk), **own)


def _quote_bar(takein: TakeIn, money: bool, today: date) -> RackBar:
    """A board that no job is done on: its quote waits, is being written, was turned down, or is not begun."""
    quoted = {each.quote.state: each for each in takein.quoted.all()}
    far = takein.needed_by or date.max
    here: _OfAQuote = {"takein": takein, "by": takein.needed_by, "late": far < today}
    if sent := quoted.get(Quote.State.SENT):
        quote, ways = sent.quote, list(sent.ways.all())
        prices = sorted(way.gross for way in ways if way.gross is not None) if money else []
        over = quote.expired(today)
        words = f"Quote {quote.number}, {'was held' if over else 'held'} until {quote.valid_until:%a %-d %b}"
        return RackBar(
            ANSWER, words=words, page="quote", pk=quote.pk, order=(0, quote.sent_at), ways=len(ways),
            least=prices[0] if prices else None, most=prices[-1] if len(prices) > 1 else None, **here,
        )  # fmt: skip
    if draft := quoted.get(Quote.State.DRAFT):
        order = (far, takein.received_at)
        return RackBar(PRICE, words="Quote being written", page="quote", pk=draft.quote_id, order=order, **here)
    if Quote.State.DECLINED in quoted:
        words = "Declined, goes home as it is"
        return RackBar(READY, words=words, page="takein", pk=takein.pk, order=(takein.received_at,), **here)
    words = "Just come in, no quote yet"
    return RackBar(PRICE, words=words, page="takein", pk=takein.pk, order=(far, takein.received_at), **here)


def _when(moment: datetime | None, today: date) -> str:
    said = clock_words(moment, today)
    return f"{said} today" if ":" in said and " " not in said else said
