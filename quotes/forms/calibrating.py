"""What a shop knows of its own work: minutes or today's price of a few usual jobs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Fieldset, Row

from quotes.costing import CoreDamage, KnownJob, NoCalibration
from quotes.pricelist import COLUMNS, Column
from shop.forms.fields import MeasureField, MoneyFormField
from shop.forms.words import Fold, PageForm, PickField
from shop.measures.money import from_float, round_money, show_money
from shop.platform.acts import Refused
from shop.text.formats import hands

SHOWN_FIRST = 4  # jobs; three are enough
MINUTES_USUAL = 3000  # beyond it a job's hands-on minutes are asked about once


class _Minutes(MeasureField):
    """Minutes of a job; the box stands under the job's name, a sentence names both."""

    named = ""

    @property
    def name_in_sentence(self) -> str:
        return f"{self.named}: minutes"


class _Price(MoneyFormField):
    """Price of a job, named in the same way."""

    named = ""

    @property
    def name_in_sentence(self) -> str:
        return f"{self.named}: price"


class KnownForm(PageForm):
    """Two boxes for each job, of which one is filled; three jobs or more. Empty ones are not known."""

    button = "See what comes out"
    all_optional = True  # nothing beside a box has to say so

    def __init__(self, *args: Any, jobs: Sequence[CoreDamage], **kwargs: Any) -> None:
        self.jobs = jobs
        boxes: dict[str, Any] = {}
        for job in jobs:
            minutes = _Minutes(
                label="Minutes of hands", dimension="time", unit="min", high=MINUTES_USUAL, example="45",
                above_zero=True, required=False,
            )  # fmt: skip
            price = _Price(label="or price today", above_zero=True, required=False)
            minutes.named = price.named = job.name
            boxes |= {minutes_of(job.key): minutes, price_of(job.key): price}
        built = PickField(label="Boards it is true of", choices=[(one.key, one.words) for one in COLUMNS], radios=True)
        self.base_fields = {"built": built, **boxes}
        rows = [Fieldset(job.name, Row(minutes_of(job.key), price_of(job.key))) for job in jobs]
        more = [Fold("More jobs", *rows[SHOWN_FIRST:])] if rows[SHOWN_FIRST:] else []
        self.layout = ("built", *rows[:SHOWN_FIRST], *more)
        kwargs.setdefault("initial", {"built": COLUMNS[0].key})
        super().__init__(*args, **kwargs)

    @property
    def helper(self) -> FormHelper:
        """What the page asks for; the summary of what is wrong does not speak of saving."""
        helper = super().helper
        helper.form_error_title = "Nothing comes out yet"
        return helper

    def _needs_a_look(self, name: str) -> bool:
        """Also where something was typed: it is not folded away again."""
        return super()._needs_a_look(name) or (self.is_bound and bool(self.data.get(self.add_prefix(name))))

    @property
    def column(self) -> Column:
        """The construction that is spoken of."""
        return next(one for one in COLUMNS if one.key == self.cleaned_data["built"])

    def known(self) -> list[KnownJob]:
        """The jobs something was typed of."""
        found = []
        for job in self.jobs:
            minutes, price = (self.cleaned_data.get(name) for name in (minutes_of(job.key), price_of(job.key)))
            if minutes is not None or price is not None:
                found.append(KnownJob(job, *(None if one is None else float(one) for one in (minutes, price))))
        return found

    def typed(self) -> list[tuple[str, str]]:
        """Name and words of every box that is not empty, to be sent once more as they are."""
        return [(name, text) for name in self.fields if (text := str(self.data.get(self.add_prefix(name), "")).strip())]

    def refuse_known(self, problem: NoCalibration) -> None:
        """Its sentence beside the job it is about."""
        boxes = [name for name in (minutes_of(problem.key), price_of(problem.key)) if name in self.fields]
        filled = [name for name in boxes if self.cleaned_data.get(name) is not None] or boxes
        self.refuse(Refused(str(problem), field=filled[-1] if filled else None))

    def ask_about_strange(self, one: KnownJob, said: float) -> None:
        """Asks once about a job of which the others say something else."""
        named = one.damage.name
        if one.minutes is not None:
            what = f"{named}: {hands(one.minutes)} does not fit the rest of what you say, which makes it {hands(said)}"
            self.ask_about(minutes_of(one.damage.key), f"{what}. Tick the box if it is right.")
            return
        assert self.shop is not None
        assert one.price is not None, "one of the two was typed"
        currency, locale = self.shop.currency, self.shop.locale
        typed, other = (
            show_money(round_money(from_float(amount), currency), currency, locale) for amount in (one.price, said)
        )
        what = f"{named}: {typed} does not fit the rest of what you say, which makes it {other}"
        self.ask_about(price_of(one.damage.key), f"{what}. Tick the box if it is right.")


def minutes_of(key: str) -> str:
    """The name of a job's box for minutes."""
    return f"minutes_{key}"


def price_of(key: str) -> str:
    """The name of a job's box for its price."""
    return f"price_{key}"
