"""The main job on the demo’s shop, from a crushed fin box to a paid invoice, step by step.

Then the service, if asked.
"""

from __future__ import annotations

import shutil
from argparse import ArgumentParser
from datetime import date, datetime, time, timedelta
from decimal import Decimal as D
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from quotes import bench, billing, experience, quoting
from quotes.costing import cost_risk
from quotes.management import demo_shop, twenty
from quotes.management.clock import Clock, after
from quotes.models import Damage, Job, Recipe, Way
from quotes.papers import quote as quote_paper
from quotes.ready_days.outlook import look_again
from shop.business.hands import add_absence
from shop.models import User
from shop.platform.acts import Signed
from shop.text.formats import day as day_words
from shop.text.formats import in_ten

HANDS_TAKE = D("1.08")  # the demo's hands take a little longer than planned, as hands do
OUT = Path("out")


class Command(BaseCommand):
    help = "Load the demo’s shop and run its main job, printing what is done and the papers written to out/."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--serve", action="store_true", help="start the service on the demo's data afterwards")

    def handle(self, *args: Any, serve: bool, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("The demo has a database of its own: run `manage.py demo --demo`, or `make demo`.")
        start_afresh()
        with timezone.override(str(demo_shop.PROFILE["timezone"])):
            self.tell_story()
        call_command("check_books", stdout=self.stdout)
        self.say("\nLog in as", ", ".join(f"{login} ({name})" for login, (name, _) in demo_shop.LOGINS.items()))
        self.say(f"Each with the password {demo_shop.PASSWORD}")
        if serve:
            call_command("serve", stdout=self.stdout)

    def say(self, *words: str) -> None:
        """Print words on one line."""
        self.stdout.write(" ".join(words))

    def tell_story(self) -> None:
        """Set the sample shop up and run its jobs."""
        now = timezone.localtime()
        opening = datetime.combine(now.date() - timedelta(days=24), time(9, 30), tzinfo=now.tzinfo)
        profile, people = demo_shop.open_shop(at=opening)
        demo_shop.say_hours(people, at=opening)
        lots = demo_shop.fill_store(signed=Signed(people["orla"], opening))
        self.say(
            f"{profile.name} is set up: {Recipe.objects.count()} recipes, {lots} lots on the shelf, in euro with VAT."
        )
        twenty.restock(signed=Signed(people["orla"], opening))
        twenty.count_shelf(signed=Signed(people["orla"], opening))
        clock = Clock(opening + timedelta(days=3))
        clock.go_on()
        self.main_job(clock, people)
        self.others_on_the_rack(Clock(now - timedelta(days=6)), now, people)
        self.twenty_fins(opening, now, people)
        self.look_ahead(now, people)

    def look_ahead(self, now: datetime, people: dict[str, User]) -> None:
        """Say how sure the days promised on the rack are, once Fionn has a day off next week."""
        away = now.date() + timedelta(days=8)
        add_absence(person=people["fionn"], first=away, reason="a day off", signed=Signed(people["orla"], now))
        self.say("\nLooking ahead, the bench played", str(settings.READY_DAY_DRAWS), "times:")
        seen = look_again(at=timezone.now())
        for job in Job.objects.filter(pk__in=seen.jobs).select_related("takein__brought_by"):
            one = seen.jobs[str(job.pk)]
            chance = "no day" if one["chance"] is None else f"{in_ten(one['chance'])}"
            likely = date.fromisoformat(one["likely"])
            self.say(
                f"  tag {job.takein.tag}, {job.takein.brought_by.name}, promised for {day_words(job.promised_on)}: {chance};",
                f"eight in ten by {day_words(likely)}",
            )

    def main_job(self, clock: Clock, people: dict[str, User]) -> None:
        """Run the main job from take-in to pick-up."""
        counter, hands = people["maeve"], people["fionn"]
        customer, board = demo_shop.niamh()
        takein = quoting.take_in(
            brought_by=customer,
            board=board,
            signed=Signed(counter, clock.go_on()),
            damages=[
                damage(Damage.Kind.BOX, Damage.Side.BOTTOM, "150", "-105", "left fin box crushed, 114 × 30 × 22 mm"),
                damage(
                    Damage.Kind.FIN,
                    Damage.Side.BOTTOM,
                    "150",
                    "105",
                    "right box sound; changes only with keels glassed on",
                ),
            ],
            checks=all_ticked(quoting.TAKE_IN_CHECK),
            wants="Fins that stay on. Would like keels glassed on if the price is right.",
            left_with_it="both keels, leash",
        )
        self.say(f"\nTook in {board.name} of {customer.name}, tag {takein.tag}: left fin box crushed.")
        quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, clock.go_on(10)))
        ways = three_ways(quote, takein, counter, clock)
        quote = quoting.send_quote(quote=quote, signed=Signed(counter, clock.go_on(5)))
        for way in ways:
            way.refresh_from_db()
            self.say(
                f"  way {way.position}: {way.title}, €{way.gross:.2f}, cost €{way.cost:.2f}, ready {way.ready_on:%a %d %b}"
            )
        assert quote.document is not None
        self.wrote(f"quote-{quote.number}", quote.document.pdf)

        keels = next(way for way in ways if way.title.startswith("Glass-on"))
        job = bench.accept_way(way=keels, signed=Signed(counter, clock.go_on(60)), how="at the counter")
        deposit = billing.take_deposit(
            job=job,
            amount=billing.suggested_deposit(job),
            method="card",
            signed=Signed(counter, clock.go_on(2)),
        )
        self.say(f"Agreed: {keels.title}. Deposit €{deposit.amount:.2f} by card, receipt {deposit.number}.")
        sheet = bench.print_sheet(job=job, signed=Signed(hands, clock.go_on(5)))
        self.wrote(f"job-sheet-{takein.tag}", sheet.pdf)
        self.fin = twenty.fin_quote(signed=Signed(counter, clock.at))  # quoted while nothing is learned yet
        quoting.send_quote(quote=self.fin.board.quote, signed=Signed(counter, clock.at))
        work(job, hands, clock, tell=self.say)

        at = clock.go_on(5)
        job = bench.finish_job(
            job=job, checks=all_ticked(bench.release_lines(job)), signed=Signed(hands, at), minutes=D(12)
        )
        invoice = billing.issue_invoice(jobs=[job], signed=Signed(counter, clock.go_on(90)))
        self.wrote(f"invoice-{invoice.number}", invoice.document.pdf)
        payment = billing.pay(
            invoice=invoice,
            amount=billing.balance(invoice),
            method="card",
            signed=Signed(counter, clock.go_on(2)),
        )
        bench.pick_up(job=job, signed=Signed(counter, clock.go_on(1)))
        self.say(
            f"Invoice {invoice.number}: €{invoice.gross:.2f}, deposit €{invoice.prepaid:.2f}, paid €{payment.amount:.2f}."
        )
        truth = billing.job_truth(job)
        self.say(
            f"The job's own truth: quoted cost €{keels.cost:.2f}, real €{truth.real_cost:.2f}; "
            f"an hour earned €{truth.earned_per_hour:.2f}."
        )

    def twenty_fins(self, opening: datetime, now: datetime, people: dict[str, User]) -> None:
        """Twenty finished jobs teach the shop what its hands take; the same fin is then quoted again."""
        counter = people["maeve"]
        before = Way.objects.get(pk=self.fin.pk)
        jobs, unwritten = twenty.twenty_fins(by=counter, hands=people["fionn"], start=opening + timedelta(hours=3))
        invoice = billing.issue_invoice(jobs=jobs, signed=Signed(counter, now))
        billing.pay(invoice=invoice, amount=billing.balance(invoice), method="transfer", signed=Signed(counter, now))  # fmt: skip
        for job in jobs:
            bench.pick_up(job=job, signed=Signed(counter, now))
        twenty.count_shelf(signed=Signed(people["orla"], now), unwritten=unwritten)
        quote = quoting.replace_quote(quote=before.board.quote, signed=Signed(counter, now))
        quote = quoting.send_quote(quote=quote, signed=Signed(counter, now))
        after = Way.objects.get(board__quote=quote)
        learned = experience.experience()
        self.say(
            f"\nTwenty fins for the board club are done, invoice {invoice.number}. {experience.current_state().words}"
        )
        self.say(f"The same fin glassed on, quoted before them ({before.board.quote}) and after ({quote}):")
        for words, way in (("before", before), ("after ", after)):
            self.say(f"  {words}: {in_words(way)}")
        for note in learned.notes:
            self.say(f"  {note}")
        figure = experience.own_figure("sand", "minutes")
        if figure is not None:
            self.say(f"  minutes of sanding over standard: {figure.words}")
        experience.keep_backtest(walked=experience.backtest(day=now.date()), at=now)

    def others_on_the_rack(self, clock: Clock, now: datetime, people: dict[str, User]) -> None:
        """Boards in every state, so that the rack has something to show."""
        counter, hands = people["maeve"], people["fionn"]
        job = self.agreed(
            demo_shop.tomas(), "ding-rail-small", {"length": "90 mm", "around": "60 mm", "depth": "9 mm"},
            damage(Damage.Kind.DING, Damage.Side.RIGHT_RAIL, "1240", "228", "open, dry"), clock, counter,
        )  # fmt: skip
        work(job, hands, clock, at_most=4)
        job = self.agreed(
            demo_shop.surf_school(), "ding-deck-medium", {"length": "140 mm", "width": "90 mm", "depth": "12 mm"},
            damage(Damage.Kind.DING, Damage.Side.DECK, "1500", "-90", "heel dent gone through"), clock, counter,
        )  # fmt: skip
        work(job, hands, Clock(after(now, -70)), at_most=3, through_the_night=True)
        job = self.agreed(
            demo_shop.saoirse(), "leash-plug", {"hole_diameter": "30 mm", "hole_depth": "19 mm"},
            damage(Damage.Kind.PLUG, Damage.Side.DECK, "70", "0", "plug pulled out"), clock, counter,
        )  # fmt: skip
        work(job, hands, Clock(now - timedelta(days=5)))
        bench.finish_job(job=job, checks=all_ticked(bench.release_lines(job)), signed=Signed(hands, now), minutes=D(8))
        yesterday = Clock.of_the_working_day_before(now)
        self.to_choose(yesterday, counter)
        customer, board = demo_shop.ruadhan()
        quoting.take_in(
            brought_by=customer, board=board, signed=Signed(counter, now), wants="Looks soft near the tail, what is it?",
            damages=[damage(Damage.Kind.WATER, Damage.Side.DECK, "260", "0", "soft when pressed")],
            checks=all_ticked(quoting.TAKE_IN_CHECK), wet=True,
        )  # fmt: skip

    def to_choose(self, clock: Clock, by: User) -> None:
        """Three dings on one board, priced as one visit; which of them are mended is the customer's choice."""
        customer, board = demo_shop.eoin()
        takein = quoting.take_in(
            brought_by=customer, board=board, signed=Signed(by, clock.go_on(20)), checks=all_ticked(quoting.TAKE_IN_CHECK),
            damages=[hurt for _, _, hurt in three_dings()], wants="What does it come to, and what can wait?",
        )  # fmt: skip
        quote = quoting.start_quote(takeins=[takein], signed=Signed(by, clock.go_on(5)))
        numbered = list(zip(three_dings(), takein.damages.order_by("number"), strict=True))
        (key, measures, _), first = numbered[0]
        way = quoting.add_way(
            board=quote.boards.get(), version=Recipe.objects.get(key=key).current, measures=measures,
            damage=first, signed=Signed(by, clock.go_on(2)),
        )  # fmt: skip
        for (key, measures, _), hurt in numbered[1:]:
            quoting.add_part(way=way, version=Recipe.objects.get(key=key).current, measures=measures, damage=hurt,
                             signed=Signed(by, clock.go_on(2)))  # fmt: skip
        for part in way.parts.all():
            quoting.leave_to_customer(part=part, optional=True, signed=Signed(by, clock.go_on()))
        quote = quoting.send_quote(quote=quote, signed=Signed(by, clock.go_on(2)))
        self.say(f"\n{board.name} of {customer.name}, {quote}: three dings, the customer chooses.")
        assert quote.document is not None
        [told] = quote.document.content["boards"][0]["ways"]
        for one in told["repairs"]:
            self.say(f"  {one['name']}: €{one['with_others']} with the others, €{one['alone']} alone")
        for row in quote_paper.choices(told["repairs"], told["choices"]):
            self.say(f"  {row['words']}: €{row['gross']}")
        self.wrote(f"three-dings-{quote.number}", quote.document.pdf)

    def drafted(self, who: Any, key: str, measures: dict[str, str], hurt: Damage, clock: Clock, by: User) -> Way:
        """Way of a draft quote for one damage."""
        customer, board = who
        takein = quoting.take_in(
            brought_by=customer, board=board, signed=Signed(by, clock.go_on(20)), damages=[hurt],
            checks=all_ticked(quoting.TAKE_IN_CHECK),
        )  # fmt: skip
        quote = quoting.start_quote(takeins=[takein], signed=Signed(by, clock.go_on(5)))
        return quoting.add_way(
            board=quote.boards.get(), version=Recipe.objects.get(key=key).current, measures=measures,
            damage=takein.damages.first(), signed=Signed(by, clock.go_on(2)),
        )  # fmt: skip

    def agreed(self, who: Any, key: str, measures: dict[str, str], hurt: Damage, clock: Clock, by: User) -> Job:
        """Job of a way that was sent and agreed."""
        way = self.drafted(who, key, measures, hurt, clock, by)
        quoting.send_quote(quote=way.board.quote, signed=Signed(by, clock.go_on(3)))
        return bench.accept_way(way=way, signed=Signed(by, clock.go_on(4)), how="at the counter")

    def wrote(self, name: str, pdf: bytes | memoryview) -> None:
        """Write a paper to out/ and say so."""
        OUT.mkdir(exist_ok=True)
        path = OUT / f"{name}.pdf"
        path.write_bytes(bytes(pdf))
        self.say(f"  wrote {path}")


def start_afresh() -> None:
    """An empty demo database of this version; never the user's, which lives elsewhere."""
    connection.close()
    base = Path(settings.DATABASES["default"]["NAME"])
    for path in (base, base.with_name(base.name + "-wal"), base.with_name(base.name + "-shm")):
        path.unlink(missing_ok=True)
    shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)
    call_command("migrate", interactive=False, verbosity=0)


def damage(kind: str, side: str, from_tail: str, from_stringer: str, words: str) -> Damage:
    """Damage for a take-in, in mm from tail and stringer."""
    return Damage(kind=kind, side=side, from_tail_mm=D(from_tail), from_stringer_mm=D(from_stringer), words=words)


def all_ticked(lines: Any) -> list[dict[str, Any]]:
    """Check with all its lines ticked."""
    return [{"line": line, "ok": True, "reason": ""} for line in lines]


def three_dings() -> list[tuple[str, dict[str, str], Damage]]:
    """Recipe, measures and place of each small ding on a board that met the rocks."""
    sides = Damage.Side
    return [
        ("ding-nose-small", {"length": "60 mm", "around": "50 mm", "depth": "8 mm"},
         damage(Damage.Kind.DING, sides.NOSE, "1880", "30", "nose tip open")),
        ("ding-rail-small", {"length": "70 mm", "around": "55 mm", "depth": "8 mm"},
         damage(Damage.Kind.DING, sides.LEFT_RAIL, "900", "-240", "crushed, glass torn")),
        ("ding-bottom-small", {"length": "45 mm", "width": "30 mm", "depth": "6 mm"},
         damage(Damage.Kind.DING, sides.BOTTOM, "520", "90", "small hole, dry")),
    ]  # fmt: skip


def three_ways(quote: Any, takein: Any, by: User, clock: Clock) -> list[Way]:
    """A new box, keels glassed on, or sealed for now.

    The left pocket measured, the right box only cut flush for keels.
    """
    board, left = quote.boards.get(), takein.damages.get(number=1)
    pocket = {"pocket_length": "114 mm", "pocket_width": "30 mm", "pocket_depth": "22 mm"}
    box = quoting.add_way(
        board=board, version=Recipe.objects.get(key="fin-box").current, measures=pocket, damage=left, signed=Signed(by, clock.go_on(4)),
        title="New box, left side",
        words="Old box out, new box set and capped with glass, sanded flush. The fin is tried before you get it back.",
    )  # fmt: skip
    keels = quoting.add_way(
        board=board, version=Recipe.objects.get(key="glass-on-twin").current, damage=left, signed=Signed(by, clock.go_on(4)), measures={"fin_base": "168 mm", "fin_height": "5 in", "fin_tip": "96 mm", "pockets": "2", "paint": "1", **pocket},
        title="Glass-on keels, both sides",
        words="Both boxes out, pockets filled and glassed, keels set, roped and glassed on, sanded, painted, satin clear.",
    )  # fmt: skip
    quoting.add_line(
        way=keels, words="Pair of wooden keels", price=D("52"), cost=D("30"), signed=Signed(by, clock.go_on(1))
    )
    sealed = quoting.add_way(
        board=board, version=Recipe.objects.get(key="ding-bottom-medium").current, damage=left, signed=Signed(by, clock.go_on(3)), measures={"length": "114 mm", "width": "30 mm", "depth": "22 mm"}, title="Filled and glassed flush, no fin",
        words="Pocket filled and glassed flush against water. Not for surfing; a box or keels stay possible later.",
    )  # fmt: skip
    return [box, keels, sealed]


def in_words(way: Way) -> str:
    """A way's price, its cost and its minutes, each with its 80 % range, as its frozen snapshot says."""
    odds = cost_risk([part.estimate for part in way.parts.all()])
    cost, minutes = odds.cost, odds.minutes
    return (
        f"€{way.gross:.2f}, cost €{way.cost:.2f} (eight in ten: €{cost.quantile(0.1):.2f} to €{cost.quantile(0.9):.2f}), "
        f"{way.minutes:.0f} min (eight in ten: {minutes.quantile(0.1):.0f} to {minutes.quantile(0.9):.0f})"
    )


def work(
    job: Job, by: User, clock: Clock, *, at_most: int = 99, tell: Any = None, through_the_night: bool = False
) -> None:
    """Do the job's steps in order, each when it may begin, booking what is planned and the minutes really taken."""
    done = 0
    while done < at_most:
        step = bench.next_step(list(job.steps.all()), clock.at)
        if step is None or step.operation == "release":
            return
        at = step.earliest_at or clock.at
        at = max(at, clock.at) if through_the_night else clock.wait_for(step.earliest_at)
        step = bench.start_step(step=step, signed=Signed(by, at), early=through_the_night)
        minutes = max(D(1), (D(str(step.planned_minutes if step.plan else 5)) * HANDS_TAKE).quantize(D(1)))
        clock.at = max(clock.at, at)
        at = after(clock.at, float(minutes))
        bench.finish_step(step=step, minutes=minutes, signed=Signed(by, at))
        clock.at = at
        done += 1
        if tell:
            dose = ", ".join(f"{mix.resin_g:.0f} g resin" for mix in step.planned.mixes if mix.resin_g)
            tell(f"  {at:%a %d %b %H:%M}  {step.title}" + (f" ({dose})" if dose else ""))
