"""Forms of money: a deposit, a payment, money paid back, a credit note, a board handed over, the two-minute job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Fieldset, Row
from django import forms

from inventory.models import Material
from quotes.billing import too_few_minutes
from quotes.billing.rates import AGREED, IN_FORCE, RateChange, in_words
from quotes.costing import CoreRecipe
from quotes.forms.bench import MINUTES_AT_MOST
from quotes.forms.figures import MEASURE, measure_fields, plain_typed
from quotes.forms.quotes import AskingForm, is_yes_or_no
from quotes.models import InvoiceLine, Job, Payment
from shop.forms.fields import ODD, MeasureField, MoneyFormField, StockField
from shop.forms.words import Laid, PageForm, PickField, WordsField
from shop.measures import units
from shop.models import Board, Customer
from shop.platform.acts import Refused

MINUTES = [("5", "5 min"), ("10", "10 min"), ("20", "20 min"), ("30", "30 min"), ("", "Typed, or not known")]
METHODS = [(value, label.capitalize()) for value, label in Payment.Method.choices]


class MoneyForm(PageForm):
    """An amount and how it is paid."""

    amount = MoneyFormField(label="Amount", above_zero=True, width="middle")
    method = PickField(label="How", choices=METHODS, radios=True)
    layout: tuple[Laid, ...] = ("amount", "method")

    def __init__(self, *args: Any, button: str, **kwargs: Any) -> None:
        self.button = button
        super().__init__(*args, **kwargs)


class RefundForm(MoneyForm):
    """Money paid back."""

    reason = WordsField(label="Why", most=200, width="long", required=False)
    layout = ("amount", "method", "reason")


class UnchargedForm(PageForm):
    """Nothing is charged for a job."""

    reason = WordsField(
        label="Why nothing is charged",
        most=400,
        width="long",
        hint="Like: the repair did not hold. It stays in the shop.",
    )
    button = "Charge nothing"


class KeepForm(PageForm):
    """A deposit that is kept, or a part of it."""

    amount = MoneyFormField(label="Amount, with tax", above_zero=True, width="middle")
    reason = WordsField(
        label="Why", most=300, width="long", hint="Like: called off the day before. It stands on the invoice."
    )
    layout = ("amount", "reason")
    button = "Keep it and issue the invoice"


class CreditForm(PageForm):
    """All that is left of an invoice, or an amount of some of its lines, with the reason."""

    reason = WordsField(label="Why", most=400, width="long", hint="It stands on the credit note.")
    button = "Issue the credit note"
    numbered = {"amounts": "line_"}

    def __init__(self, *args: Any, lines: Sequence[tuple[InvoiceLine, Decimal]], **kwargs: Any) -> None:
        self.lines = {f"line_{line.position}": line.position for line, _ in lines}
        boxes = {
            f"line_{line.position}": MoneyFormField(
                label=f"Of “{line.words}”", required=False, hint=f"Up to {left:.2f}. All empty: the whole invoice."
            )
            for line, left in lines
        }
        self.base_fields = {"reason": self.declared_fields["reason"], **boxes}
        self.layout = ("reason", Fieldset("Only a part", *boxes))
        super().__init__(*args, **kwargs)

    def amounts(self) -> dict[int, Decimal] | None:
        """Amounts by line; None for all of it."""
        found = {place: self.cleaned_data.get(name) for name, place in self.lines.items()}
        return {place: amount for place, amount in found.items() if amount} or None

    def entries(self) -> dict[str, Any]:
        return {"reason": self.cleaned_data["reason"], "amounts": self.amounts()}


class PickUpForm(AskingForm):
    """The board goes home."""

    asks = {"owing_ok": "Yes, it leaves with this still open"}
    button = "Picked up"


class IssueForm(PageForm):
    """The invoice of a job, with others of the same payer that are ready too."""

    button = "Issue the invoice"

    def __init__(
        self, *args: Any, others: Sequence[Job] = (), changes: Sequence[RateChange] = (), **kwargs: Any
    ) -> None:
        self.others = {f"also_{job.pk}": job for job in others}
        asked = {"rates": _which_rates(changes)} if changes else {}
        self.base_fields = asked | {
            name: forms.BooleanField(
                label=f"With tag {job.takein.tag}, {job.takein.board.name}: {job.way.title}", required=False
            )
            for name, job in self.others.items()
        }
        super().__init__(*args, **kwargs)

    def also(self) -> list[Job]:
        """Other jobs that go on the same invoice."""
        return [job for name, job in self.others.items() if self.cleaned_data.get(name)]

    def rates(self) -> str:
        """Which rates the invoice takes where one has changed; "" where none has."""
        return str(self.cleaned_data.get("rates", ""))


def _which_rates(changes: Sequence[RateChange]) -> PickField:
    choices = [(IN_FORCE, "those of the law now"), (AGREED, "those that were agreed")]
    return PickField(label="Rates of tax", choices=choices, radios=True, hint=f"{in_words(changes)}.")


class SaleForm(PageForm):
    """How many of which goods at what price, and how they are paid."""

    button = "Take the money"

    def __init__(self, *args: Any, goods: Sequence[tuple[Material, Decimal | None]], **kwargs: Any) -> None:
        self.goods = {str(material.pk): material for material, _ in goods}
        boxes: dict[str, Any] = {}
        rows = []
        for material, price in goods:
            many, each = f"many_{material.pk}", f"price_{material.pk}"
            amount = StockField(label=f"{material.name}, how many", required=False, hint=_on_shelf(material))
            amount.of(material)
            boxes[many] = amount
            boxes[each] = MoneyFormField(label=f"Price of {material.name}", required=False, initial=price)
            rows.append(Row(many, each))
        boxes["method"] = PickField(label="Paid by", choices=METHODS, radios=True)
        self.base_fields = boxes
        self.layout = (*rows, "method")
        super().__init__(*args, **kwargs)

    def sold(self) -> list[tuple[Material, Decimal, Decimal]]:
        """Material, how many and the price of one, of what is sold."""
        said = self.cleaned_data
        return [
            (material, said[f"many_{pk}"], said[f"price_{pk}"])
            for pk, material in self.goods.items()
            if said.get(f"many_{pk}")
        ]

    def clean(self) -> dict[str, Any]:
        """Entries, refused where something is sold without a price."""
        said = super().clean() or self.cleaned_data
        for pk, material in self.goods.items():
            if said.get(f"many_{pk}") and said.get(f"price_{pk}") is None and f"price_{pk}" not in self.errors:
                self.add_error(f"price_{pk}", f"Price of {material.name} is empty; say what one costs, like 4.50.")
        return said


def _on_shelf(material: Material) -> str:
    if material.not_tracked or not material.is_counted:
        return "Not tracked." if material.not_tracked else "Not counted yet."
    return f"{units.show(material.on_hand, material.unit)} on the shelf."


class QuickForm(AskingForm):
    """A small repair from recipe to paid, on one screen."""

    by_browser = False
    asks = {"below_cost": "Yes, below cost"}

    def __init__(self, *args: Any, core: CoreRecipe, people: Sequence[Customer], **kwargs: Any) -> None:
        self.core = core
        boxes: dict[str, forms.Field] = dict(measure_fields(core))
        for measure in core.measures:
            if is_yes_or_no(measure):
                boxes[MEASURE + measure.name] = forms.BooleanField(label=measure.label, required=False)
        self.people = {str(one.pk): one for one in people}
        names = [("", "no name"), *((pk, one.name) for pk, one in self.people.items())]
        self.base_fields = {
            **boxes,
            "board_core": PickField(label="Core", choices=Board.Core.choices),
            "board_resin": PickField(label="Skin resin", choices=Board.Resin.choices),
            "customer": PickField(label="Customer", choices=names, required=False, width="long"),
            "took": PickField(
                label="Hands on it",
                choices=MINUTES,
                radios=True,
                required=False,
                hint="A job whose minutes are not known is left out of what an hour earned.",
            ),
            "minutes": MeasureField(
                label="Or minutes typed",
                dimension="time",
                unit="min",
                high=MINUTES_AT_MOST,
                example="15",
                above_zero=True,
                required=False,
                width="short",
            ),
            "method": PickField(label="Paid by", choices=METHODS, radios=True),
            "price_by_hand": MoneyFormField(label="Price by hand", required=False, hint="Empty: as worked out."),
            "price_reason": WordsField(label="Why by hand", most=200, required=False),
        }
        plain = [name for name in boxes if not isinstance(boxes[name], forms.BooleanField)]
        ticks = [name for name in boxes if name not in plain]
        self.layout = (
            Row(*plain), *ticks, Row("board_core", "board_resin"), "customer", Row("price_by_hand", "price_reason"),
            "took", "minutes", "method",
        )  # fmt: skip
        super().__init__(*args, **kwargs)

    @staticmethod
    def showing(core: CoreRecipe) -> dict[str, Any]:
        """The boxes as they begin."""
        shown: dict[str, Any] = {"board_core": "unknown", "board_resin": "unknown", "method": "cash", "took": ""}
        for measure in core.measures:
            typed = plain_typed(measure.default, measure.unit)
            shown[MEASURE + measure.name] = typed not in ("", "0") if is_yes_or_no(measure) else typed
        return shown

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

    def laid_out(self) -> list[dict[str, Any]]:
        """The boxes as the page sets them: sizes side by side; a box that was asked for stands under what asks."""
        rows: list[dict[str, Any]] = []
        shown: set[str] = set()
        for part in self.layout:
            names = [part] if isinstance(part, str) else list(part.fields)
            asked = [ODD + name for name in names if ODD + name in self.fields]
            rows.append({"row": len(names) > 1, "fields": [self[name] for name in names]})
            if asked:
                rows.append({"row": False, "fields": [self[name] for name in asked]})
            shown |= {*names, *asked}
        rest = [self[name] for name in self.fields if name not in shown]
        return [*rows, {"row": False, "fields": rest}] if rest else rows

    def odd_names(self) -> list[str]:
        """Names of the measures whose odd values were said to be right."""
        return [name.removeprefix(MEASURE) for name in self.odd_accepted() if name.startswith(MEASURE)]

    def hands_on(self) -> Decimal | None:
        """Minutes of the whole job; None where nobody knows them."""
        took = self.cleaned_data.get("took")
        return Decimal(took) if took else self.cleaned_data.get("minutes")

    def clean(self) -> dict[str, Any]:
        """Entries, refused for a price by hand without reason, or minutes said twice."""
        said = super().clean() or self.cleaned_data
        if said.get("price_by_hand") is not None and not said.get("price_reason", "").strip():
            self.add_error("price_reason", "A price by hand needs a reason: say why, for the shop only.")
        if said.get("took") and said.get("minutes") is not None:
            self.add_error(
                "minutes", f"Minutes are picked as {said['took']} and typed too: leave one of the two empty."
            )
        elif said.get("minutes") is not None:
            wrong = too_few_minutes(said["minutes"], len(self.core.acts))  # each is a step at most
            if wrong:
                self.add_error("minutes", wrong)
        return said

    def refuse_others(self, wrong: Mapping[str, list[str]]) -> None:
        """Refuse for what the costing found too, beside boxes that nothing is said of yet: each box says one thing."""
        boxes = {name.removeprefix(MEASURE) for name in self.errors}
        said = {sentence for sentences in self.errors.values() for sentence in sentences}
        new = {name: [one for one in wrong[name] if one not in said] for name in wrong if name not in boxes}
        if left := {name: sentences for name, sentences in new.items() if sentences}:
            self.refuse(Refused(left))

    def customer(self) -> Customer | None:
        """Customer that was picked; None without one."""
        return self.people.get(self.cleaned_data.get("customer", ""))

    def refuse(self, problem: Refused | Any) -> None:
        """The core names measures; the boxes carry a prefix."""
        if hasattr(problem, "error_dict"):
            named = {measure.name for measure in self.core.measures}
            problem.error_dict = {
                MEASURE + name if name in named else name: errors for name, errors in problem.error_dict.items()
            }
        super().refuse(problem)
