"""Forms of a quote: measures of a repair, a way's words and price, lines by hand, the customer's answer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Fieldset, Row
from django import forms
from django.core.exceptions import ValidationError

from quotes.costing import CoreRecipe, Measure
from quotes.forms.figures import MEASURE, measure_fields, plain_typed
from quotes.models import Cause, Damage, Job, Quote, Way, WayLine
from shop.forms.fields import MoneyFormField, PercentFormField
from shop.forms.words import DayField, Laid, PageForm, PickField, WordsField
from shop.models import Customer
from shop.platform.acts import Refused
from shop.text.formats import day as day_words
from shop.text.formats import day_year

HOW = ("at the counter", "by phone", "by message", "signed on the paper")


class AskingForm(PageForm):
    """A form with yes-boxes that appear only once a verb has asked for them: name → words beside the box."""

    asks: Mapping[str, str] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.asks:
            if self.data.get(self.add_prefix(name)):
                self._ask(name)

    def _ask(self, name: str) -> None:
        self.fields.setdefault(name, forms.BooleanField(required=False, label=self.asks[name]))

    def said_yes(self, name: str) -> bool:
        return bool(self.cleaned_data.get(name))

    def refuse(self, problem: Refused | ValidationError) -> None:
        for name in getattr(problem, "error_dict", {}):
            if name in self.asks:
                self._ask(name)
        super().refuse(problem)


def is_yes_or_no(measure: Measure) -> bool:
    return measure.dimension == "count" and (measure.low, measure.high) == (0, 1)


class PartForm(PageForm):
    """The measures of a recipe for one damage; for a new way also what the customer reads."""

    def __init__(
        self, *args: Any, core: CoreRecipe, damages: list[Damage], new_way: bool = False, button: str, **kwargs: Any
    ) -> None:
        self.core, self.damages, self.button = core, {str(one.pk): one for one in damages}, button
        boxes: dict[str, Any] = measure_fields(core)
        for measure in core.measures:
            name = MEASURE + measure.name
            if is_yes_or_no(measure):
                boxes[name] = forms.BooleanField(label=measure.label, required=False)
            elif measure.when:
                boxes[name].help_text = f"{measure.hint}. Empty where there is none.".lstrip(". ")
        words = {
            "title": WordsField(label="What it is called on the quote", most=120, width="long"),
            "words": WordsField(label="What the customer reads", most=2000, lines=3, required=False),
        }
        offered = [("", "no damage in particular"), *((pk, str(one)) for pk, one in self.damages.items())]
        damage = PickField(label="For which damage", choices=offered, required=False, width="long")
        self.base_fields = {"damage": damage, **boxes, **(words if new_way else {})}
        self.layout = ("damage", *_laid_out(core), *(words if new_way else ()))
        super().__init__(*args, **kwargs)

    @staticmethod
    def showing(core: CoreRecipe, typed: Mapping[str, str]) -> dict[str, Any]:
        """The boxes as they begin: what is known, else the recipe's own default."""
        shown: dict[str, Any] = {}
        for measure in core.measures:
            text = typed.get(measure.name) or plain_typed(measure.default, measure.unit)
            shown[MEASURE + measure.name] = text not in ("", "0") if is_yes_or_no(measure) else text
        return shown

    def damage(self) -> Damage | None:
        return self.damages.get(self.cleaned_data["damage"])

    def typed(self) -> dict[str, str]:
        """The measures as they were typed."""
        found: dict[str, str] = {}
        for measure in self.core.measures:
            name = MEASURE + measure.name
            if is_yes_or_no(measure):
                found[measure.name] = "1" if self.cleaned_data.get(name) else "0"
            else:
                found[measure.name] = str(self.data.get(self.add_prefix(name), ""))
        return found

    def odd_names(self) -> list[str]:
        return [name.removeprefix(MEASURE) for name in self.odd_accepted()]

    def entries(self) -> dict[str, Any]:
        said = {"measures": self.typed(), "damage": self.damage(), "accepted_odd": self.odd_names()}
        return said | {name: self.cleaned_data[name] for name in ("title", "words") if name in self.fields}

    def refuse(self, problem: Refused | ValidationError) -> None:
        """The core names measures; the boxes carry a prefix."""
        if hasattr(problem, "error_dict"):
            named = {measure.name for measure in self.core.measures}
            problem.error_dict = {
                MEASURE + name if name in named else name: errors for name, errors in problem.error_dict.items()
            }
        super().refuse(problem)


def _laid_out(core: CoreRecipe) -> list[Laid]:
    """Sizes side by side; those asked for only where there is something to fill stand apart, under its name."""
    plain = [MEASURE + one.name for one in core.measures if not one.when and not is_yes_or_no(one)]
    ticks = [MEASURE + one.name for one in core.measures if is_yes_or_no(one)]
    apart: dict[str, list[str]] = {}
    for measure in core.measures:
        if measure.when:
            apart.setdefault(measure.when, []).append(MEASURE + measure.name)
    labels = {measure.name: measure.label for measure in core.measures}
    groups = [Fieldset(f"If there are: {labels[gate].lower()}", Row(*names)) for gate, names in apart.items()]
    return [Row(*plain), *groups, *ticks]


class WayForm(AskingForm):
    """What the customer reads of a way, and what is set by hand."""

    title = WordsField(label="What it is called on the quote", most=120, width="long")
    words = WordsField(label="What the customer reads", most=2000, lines=4, required=False)
    ready_on = DayField(label="Ready on, by hand", required=False, hint="Empty: as worked out.")
    price_by_hand = MoneyFormField(
        label="Price by hand", required=False, hint="Of the whole way, as the customer sees it. Empty: as worked out."
    )
    price_reason = WordsField(label="Why by hand", most=200, required=False, hint="For the shop only.")
    asks = {"below_cost": "Yes, below cost"}
    button = "Save the way"

    @staticmethod
    def showing(way: Way) -> dict[str, Any]:
        by_hand = way.price_by_hand
        return {
            "title": way.title,
            "words": way.words,
            "ready_on": way.ready_on if way.ready_by_hand else None,
            "price_by_hand": "" if by_hand is None else f"{by_hand.normalize():f}",
            "price_reason": way.price_reason,
        }


class LineForm(PageForm):
    """A line by hand."""

    words = WordsField(label="What", most=200, width="long", hint="Like keel fins, pair; or a courier.")
    price = MoneyFormField(label="Price to the customer", above_zero=True, hint="As the shop’s prices are.")
    cost = MoneyFormField(label="What it costs the shop", required=False, hint="Without tax.")
    rate = PickField(label="Tax", choices=[])
    layout = ("words", Row("price", "cost", "rate"))
    button = "Save the line"

    def __init__(self, *args: Any, rates: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.field("rate", PickField).choices = rates

    @staticmethod
    def showing(line: WayLine) -> dict[str, Any]:
        money = {name: f"{getattr(line, name).normalize():f}" for name in ("price", "cost")}
        return {"words": line.words, "rate": percent_key(line.tax_percent), **money}

    def entries(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "words": data["words"],
            "price": data["price"],
            "cost": data["cost"] or Decimal(0),
            "tax_percent": Decimal(data["rate"]),
        }


def percent_key(percent: Decimal) -> str:
    return f"{percent.normalize():f}"


class QuoteForm(PageForm):
    """Who pays, and a word to the customer."""

    payer = PickField(label="Who pays", choices=[], width="long")
    note = WordsField(label="A word to the customer", most=2000, lines=4, required=False)
    rush_percent = PercentFormField(
        label="Supplement for a rush", required=False, high=200,
        hint="On every way of this quote, for work that goes before others.",
    )  # fmt: skip
    button = "Save"

    def __init__(self, *args: Any, payers: list[Customer], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.payers = {str(one.pk): one for one in payers}
        self.field("payer", PickField).choices = [(pk, one.name) for pk, one in self.payers.items()]
        self.field("rush_percent", PercentFormField).after = "%"

    @staticmethod
    def showing(quote: Quote) -> dict[str, Any]:
        rush = f"{quote.rush_percent.normalize():f}" if quote.rush_percent else ""
        return {"payer": str(quote.payer_id), "note": quote.note, "rush_percent": rush}

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        return {**said, "payer": self.payers[said["payer"]], "rush_percent": said["rush_percent"] or Decimal(0)}


class AgreeForm(AskingForm):
    """How the customer said yes; of a board that was here before, whether an earlier job comes back with it."""

    how = PickField(label="How did the customer agree?", choices=[(how, how) for how in HOW], radios=True)
    promised_on = DayField(label="Ready on", required=False)
    asks = {"past_date": "Yes, the price still holds"}
    button = "Agreed"

    def __init__(
        self,
        *args: Any,
        earlier: Iterable[Job] = (),
        said: date | None = None,
        to_choose: Mapping[int, str] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.to_choose = to_choose or {}
        for pk, words in self.to_choose.items():
            self.fields[f"repair_{pk}"] = forms.BooleanField(label=words, required=False, initial=True)
        self.order_fields([f"repair_{pk}" for pk in self.to_choose])
        stands = f"{day_words(said)}, as the quote says, while it holds eight in ten; else " if said else ""
        self.fields["promised_on"].help_text = f"Empty: {stands}the day that holds eight in ten now."
        self.earlier = {str(job.pk): job for job in earlier}
        if not self.earlier:
            return
        jobs = [
            (pk, f"{job.takein.tag}: {job.way.title}, {day_year(job.agreed_at)}") for pk, job in self.earlier.items()
        ]
        self.fields["comeback_of"] = PickField(
            label="Is this an earlier repair coming back?", choices=[("", "No, new damage"), *jobs], required=False,
            radios=True, hint="What a comeback costs counts against the job that came back.",
        )  # fmt: skip
        self.fields["cause"] = PickField(
            label="What made it come back?", choices=[("", "It is no comeback"), *Cause.choices], required=False,
        )  # fmt: skip
        self.fields["free"] = forms.BooleanField(label="At our cost: the customer pays nothing", required=False)

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        agreed = {"how": said["how"], "promised_on": said["promised_on"], "past_date": self.said_yes("past_date")}
        return {**agreed, "wanted": self.wanted(), **self.comeback()}

    def wanted(self) -> list[int] | None:
        """The repairs ticked, None where there is nothing to choose."""
        return [pk for pk in self.to_choose if self.cleaned_data[f"repair_{pk}"]] if self.to_choose else None

    def comeback(self) -> dict[str, Any]:
        """What accept_way is told about an earlier job: which, why, and whether this one is charged."""
        job = self.earlier.get(self.cleaned_data.get("comeback_of", ""))
        if job is None:
            return {}
        return {"comeback_of": job, "cause": self.cleaned_data["cause"], "billed": not self.cleaned_data["free"]}

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if said.get("free") and not said.get("comeback_of"):
            self.add_error("comeback_of", "Say which earlier repair comes back; only a comeback is at our cost.")
        return said


class DeclineForm(PageForm):
    """Why the customer said no."""

    reason = WordsField(label="Why not", most=200, width="long", hint="Like too dear, too late, sells the board.")
    button = "Declined"
