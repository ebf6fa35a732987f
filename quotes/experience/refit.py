"""Learning from all that was written down, and keeping what came of it as the shop's one row of experience.

Invariant: learning never breaks what called it. Whatever goes wrong, the row keeps what was learned before, says so in
a sentence, and waits for `tick`. A row that another version of the software kept is never read: it counts as not
learned yet and waits too.
"""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
from django.db import transaction
from django.utils import timezone

from inventory.models import Count, CountLine, Material, StockQuestion
from quotes.costing import REGISTRY
from quotes.costing.learning.doubts import Doubt, doubts
from quotes.costing.learning.history import Cell, Range, Trade
from quotes.costing.learning.history import HistoryMaterial as Used
from quotes.costing.learning.model.fit import Fitted, fit
from quotes.costing.learning.model.layout import Entry
from quotes.costing.learning.model.lines import cup
from quotes.costing.learning.model.plausibility import implausible, sentence
from quotes.costing.learning.model.state import State
from quotes.costing.parts.usage import POOLED
from quotes.costing.stats.assumptions import MINUTES, USUAL
from quotes.estimating import Inputs, shop_inputs
from quotes.experience.figures import figures_of
from quotes.experience.gathering import Gathered, gather
from quotes.experience.standard import own_now
from quotes.models import LEARNED_VERSION, BenchHours, Experience, Job, StepTime, StepUse
from shop.models import Role, User
from shop.platform.acts import Refused, Signed, action, internal

LEARNED_AT_ONCE = 1500
"""Rows of uses, times and counts up to which finishing a job learns at once: half a second on a small machine, which
nobody notices in a tap that ends a day's work. Beyond it the row is marked, and `tick` learns."""

LEARNED_WHILE_WAITING = 6000  # rows up to which a keeper may have it learned now: some two seconds, by the same measure

POINTS_KEPT = 400  # of each operation and material, the last ones; a page can show no more
_log = logging.getLogger(__name__)


def experience() -> Experience:
    """The shop's row; an empty one, not stored, before anything was learned.

    Where another version of the software learned, an empty one that waits to be worked out again since then.
    """
    row = Experience.objects.filter(pk=1).first() or Experience(pk=1)
    if row.version == LEARNED_VERSION or row.learned_at is None:
        return row
    notes = row.notes if row.stale_since else []
    return Experience(pk=1, version=row.version, stale_since=row.stale_since or row.learned_at, notes=notes)


def size() -> int:
    """Rows that a fit has to go through. Three queries."""
    return StepUse.objects.count() + StepTime.objects.count() + CountLine.objects.filter(counted__isnull=False).count()


def waiting(row: Experience) -> int:
    """Jobs that were finished, and counts and totals of hours written down, since a row was last learned.

    Three queries.
    """
    since = row.learned_at or datetime.min.replace(tzinfo=UTC)
    jobs = Job.objects.filter(state__in=Job.DONE, finished_at__gt=since)
    counts = Count.objects.filter(closed_at__gt=since)
    hours = BenchHours.objects.standing().filter(at__gt=since)
    return jobs.count() + counts.count() + hours.count()


@action("learned.renew", Role.KEEPER)
def learn_now(*, signed: Signed) -> Experience:
    """What waits is learned because the keeper asks for it. Raises Refused where that takes longer than one waits."""
    if size() > LEARNED_WHILE_WAITING:
        raise Refused(
            "So much is written down that it takes too long to learn while you wait: the nightly run does it."
        )
    row = learn(at=signed.at)
    if row.stale_since is not None:
        raise Refused(row.notes[0])
    signed.record(row, f"Had it learned from {row.jobs} finished jobs")
    return row


@internal
def learn_or_mark(*, at: datetime) -> Experience:
    """After a job was finished or a count booked: learn at once where that is quick, otherwise leave it to `tick`."""
    return learn(at=at) if size() <= LEARNED_AT_ONCE else mark_stale(at=at)


@internal
def learn_by_own_figures(*, at: datetime) -> bool:
    """After an own figure was set or given back: every job is held against it at once, where something was learned.

    True where estimates are by it now; False where so much is written down that it waits for `tick`, or learning
    failed: until then the figure counts on top of what was learned under the old one.
    """
    row = experience()
    if row.learned_at is None and row.stale_since is None:
        return True
    if size() > LEARNED_WHILE_WAITING:
        mark_stale(at=at)
        return False
    return learn(at=at).stale_since is None


@internal
def mark_stale(*, at: datetime, note: str = "") -> Experience:
    """The row waits to be worked out again; what was learned before stays in use."""
    row = _locked()
    row.stale_since = row.stale_since or at
    if note:
        row.notes = [note]
    row.save()
    return row


@internal
def learn(*, at: datetime) -> Experience:
    """Everything that was ever written down taken in afresh. A failure keeps what was known and says so in `notes`."""
    try:
        with transaction.atomic():
            return _learned(at)
    except Exception:
        # Whatever it is, the job that was just finished is finished; the sentence and the log tell of it.
        _log.exception("learning failed")
        return mark_stale(
            at=at,
            note="The history could not be worked out, so the figures learned before stay in use; "
            "it is tried again with the next job.",
        )


def _learned(at: datetime) -> Experience:
    gathered = gather(day=timezone.localdate(at))
    row = _locked()
    fitted = fit(gathered.history)
    state = replace(fitted.state, jobs=gathered.jobs)
    fill(row, state, fitted, gathered)
    ask_about_shares(state, row.notes, at)
    rates = gathered.again(hourly(shop_inputs(day=timezone.localdate(at))))
    row.figures["again"] = {name: [one.done, one.redone, one.rate, one.cost] for name, one in rates.items()}
    row.learned_at, row.stale_since = at, None
    row.save()
    return row


def waits(row: Experience) -> bool:
    """Whether a row is to be worked out again: it was put off, or an own figure is another one since. One query."""
    own = row.figures.get("own")
    return row.stale_since is not None or (own is not None and own != own_now())


def learned_elsewhere() -> bool:
    """Whether another version of the software learned what is kept, so that it waits to be worked out. One query."""
    row = experience()
    return row.version != LEARNED_VERSION and row.stale_since is not None


def hourly(inputs: Inputs) -> float:
    """What a hands-on hour costs, wage and overhead, in currency without tax."""
    return inputs.shop.wage_per_hour + inputs.shop.overhead_per_hour


def _locked() -> Experience:
    Experience.objects.get_or_create(pk=1)
    return Experience.objects.select_for_update().get(pk=1)


def fill(row: Experience, state: State, fitted: Fitted, gathered: Gathered) -> None:
    """Puts a fit into the row: the state to the last digit, and beside it what estimates and pages read."""
    history = gathered.history
    row.version, row.state, row.trade = LEARNED_VERSION, state.as_dict(), trade_as_dict(history.trade)
    found = doubts(fitted, history.trade)
    kept, names = said_right(found), names_of(found)
    row.figures, row.points = figures_of(state, history), points_of(fitted, kept)
    row.doubtful = [
        {**one.as_dict(), "explanation": in_names(one, names), "fits": one.fits, "low": one.low, "high": one.high,
         "kept": (one.job, one.operation, one.material) in kept}
        for one in found
    ]  # fmt: skip
    row.digest, row.notes, row.jobs = state.digest(), notes_of(state), gathered.jobs
    row.logs = sum(not log.again for log in history.logs)
    row.counts = len(history.counts) + len(history.hours)


Logged = tuple[str, str, str]  # a log by its job, operation and material


def said_right(found: Sequence[Doubt]) -> set[Logged]:
    """The doubts that somebody was asked about and kept. Two queries."""
    jobs = {int(one.job) for one in found}
    uses = StepUse.objects.filter(step__job__in=jobs, sure_at__isnull=False, undone_at__isnull=True)
    times = StepTime.objects.filter(step__job__in=jobs, sure_at__isnull=False, replaced_at__isnull=True)
    kept = {(str(job), operation, key) for job, operation, key in uses.values_list(*_LOGGED, "material__key")}
    return kept | {(str(job), operation, MINUTES) for job, operation in times.values_list(*_LOGGED)}


_LOGGED = ("step__job", "step__operation")
Names = Mapping[tuple[str, str], str]


def names_of(found: Sequence[Doubt]) -> Names:
    """What people call the jobs, materials and operations of doubts. Two queries."""
    jobs = Job.objects.filter(pk__in={int(one.job) for one in found}).values_list("pk", "takein__tag")
    stock = Material.objects.filter(key__in={one.material for one in found}).values_list("key", "name")
    return {
        **{("job", str(pk)): tag for pk, tag in jobs},
        **{("material", key): name for key, name in stock},
        **{("operation", key): operation.name for key, operation in REGISTRY.items()},
        ("operation", POOLED): POOLED,
    }


def in_names(one: Doubt, names: Names) -> str:
    """A doubt's sentence with the names that people use instead of keys."""
    operation = names.get(("operation", one.operation), one.operation)
    material, tag = names.get(("material", one.material), one.material), names.get(("job", one.job), one.job)
    what = "" if one.material == MINUTES else f"of {one.material} "
    said = "" if one.material == MINUTES else f"of {material} "
    return one.explanation.replace(
        f"{what}for {one.operation} on job {one.job}:", f"{said}for “{operation}” on job {tag}:", 1
    )


def notes_of(state: State) -> list[str]:
    """What the state says could not be believed, in the names people use.

    Two queries where there is something to say.
    """
    if not state.notes:
        return []
    stock = dict(Material.objects.values_list("key", "name"))
    people = {str(pk): name for pk, name in User.objects.values_list("pk", "name")}
    said = {sentence(entry): sentence(_named(entry, stock, people)) for entry in implausible(state)}
    return list(dict.fromkeys(_renamed(note, said) for note in state.notes))


def _renamed(note: str, said: Mapping[str, str]) -> str:
    """A note with the sentence at its head in the names people use."""
    head = next((one for one in said if note.startswith(one)), "")
    return said[head] + note.removeprefix(head) if head else note


def ask_about_shares(state: State, notes: Sequence[str], at: datetime) -> None:
    """Puts a question about each material whose counts do not go with its jobs, unless one like it is open.

    Among the questions of the store, where what shelf and bench disagree on is answered.
    """
    keys = [entry[1] for entry in implausible(state) if entry[0] == "unassigned"]
    for material in Material.objects.filter(key__in=keys) if keys else ():
        head = sentence(("unassigned", material.name))
        words = next((note for note in notes if note.startswith(head)), "")
        if words and not material.questions.open().filter(words__startswith=head).exists():
            StockQuestion.objects.create(material=material, words=words[:400], asked_at=at)


def _named(entry: Entry, stock: Mapping[str, str], people: Mapping[str, str]) -> Entry:
    match entry:
        case ("factor", operation, material):
            name = REGISTRY[operation].name if operation in REGISTRY else operation
            return ("factor", f"“{name}”", stock.get(material, material))
        case ("worker", worker, _):
            return ("person", people.get(worker, f"worker {worker}"))
        case (kind, material, *rest):
            return (kind, stock.get(material, material), *rest)
    return entry


def points_of(fitted: Fitted, kept: Collection[Logged]) -> dict[str, list[list[Any]]]:
    """By “operation material” the logs behind a figure.

    Each is [job, day, need, value, mixes, use over need, whether in doubt]. Use over need is without what the cups
    kept, so that it compares with the factor. What was `kept` is in doubt no more.
    """
    rows, found = fitted.log_rows, fitted.lines
    lost = cup(found, np.append(fitted.state.x, 0.0))
    points: dict[str, list[list[Any]]] = defaultdict(list)
    for at, line in enumerate(rows.line.tolist()):
        term, value, mixes = found.terms[line], float(rows.value[at]), float(rows.mixes[at])
        if term.again:
            continue
        factor = max(value - mixes * float(lost[line]), 0.0) / term.need
        odd = bool(abs(fitted.log_z[at]) > USUAL.doubtful or not rows.readable[at])
        doubtful = odd and (term.job, term.operation, term.material) not in kept
        points[cell_key(term.operation, term.material)].append(
            [term.job, term.day, term.need, value, mixes, factor, doubtful]
        )
    return {key: sorted(logs, key=lambda log: log[1])[-POINTS_KEPT:] for key, logs in points.items()}


def cell_key(operation: str, material: str) -> str:
    """How a cell is named in the row."""
    return f"{operation} {material}"


def trade_as_dict(trade: Trade) -> dict[str, Any]:
    """The trade defaults for JSON; `trade_from_dict` reads them back to the last digit."""
    return {
        "materials": [
            [one.key, one.unit, one.price, one.group, list(one.loss) if one.loss else None, one.log_step,
             one.count_step, one.max_batch, one.in_parts]
            for one in trade.materials.values()
        ],
        "factors": [[*cell, *usual] for cell, usual in trade.factors.items()],
        "set_ups": trade.set_ups,
    }  # fmt: skip


def trade_from_dict(kept: Mapping[str, Any]) -> Trade:
    """Trade defaults as they were kept; none of an empty row."""
    materials = {
        row[0]: Used(row[0], row[1], row[2], row[3], Range(*row[4]) if row[4] else None, *row[5:])
        for row in kept.get("materials", ())
    }
    factors = {Cell(row[0], row[1]): Range(*row[2:]) for row in kept.get("factors", ())}
    return Trade(materials, factors, bool(kept.get("set_ups")))
