"""Forms of the bench: big boxes for a mix, minutes, a material used, what turned up, and the release check."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from inventory.forms.counting import weight_field
from inventory.models import Material
from quotes.bench import Dose, Planned, Together, clock_words
from quotes.models import Cause, Step
from shop.forms.fields import MeasureField, StockField
from shop.forms.words import PageForm, PickField, WordsField
from shop.measures import numerals, units

MINUTES_AT_MOST = 600  # ten hours on one step: our own limit, asked about once
MIX_AT_MOST_G = 2000  # larger than any cup; our own limit, asked about once


class MixForm(PageForm):
    """One cup: grams of resin and of what hardens it, and how much of it went onto other boards."""

    button = "Mixed as shown"

    def __init__(
        self,
        *args: Any,
        dose: Dose,
        names: dict[str, str],
        others: Sequence[Step] = (),
        cup: Together | None = None,
        **kwargs: Any,
    ) -> None:
        self.cup = cup
        self.dose, self.others = dose, {f"onto_{step.pk}": step for step in others}
        self.base_fields = {"resin_g": _grams(names.get(dose.resin, dose.resin), "1")}
        if dose.hardener_g is not None:
            small = "0.01" if dose.hardener_g < 5 else "1"
            self.base_fields["hardener_g"] = _grams(names.get(dose.hardener, dose.hardener), small)
        shared: list[str] = []
        if others:
            self.base_fields["onto"] = _grams("Onto this board", "", required=False)
            shared = ["onto", *self.onto_names()]
            for name, step in self.others.items():
                label = f"Onto tag {step.job.takein.tag}, {step.job.takein.board.name}"
                self.base_fields[name] = _grams(label, "", required=False)
        self.layout = (*[name for name in self.base_fields if name not in shared], *shared)
        kwargs.setdefault("initial", self.showing(dose))
        super().__init__(*args, **kwargs)

    def onto_names(self) -> list[str]:
        return list(self.others)

    @staticmethod
    def showing(dose: Dose) -> dict[str, str]:
        """The boxes as the dose is shown, empty where it is withheld."""
        if dose.withheld:
            return {}
        shown = {"resin_g": f"{dose.resin_g:f}"}
        return shown if dose.hardener_g is None else {**shown, "hardener_g": f"{dose.hardener_g:f}"}

    @classmethod
    def sharing(cls, cup: Together, step: Step, dose: Dose) -> dict[str, str]:
        """The boxes filled for a cup that serves several boards."""
        hardener = dose.hardener_for(cup.grams)
        onto = {f"onto_{other.pk}": f"{grams:f}" for other, grams in cup.onto.items() if other != step}
        shown = {"resin_g": f"{cup.grams:f}", "onto": f"{cup.onto[step]:f}", **onto}
        return shown if hardener is None else {**shown, "hardener_g": f"{hardener:f}"}

    def clean(self) -> None:
        if (
            self.others
            and any(self.cleaned_data.get(name) for name in self.others)
            and not self.cleaned_data.get("onto")
        ):
            self.add_error("onto", "Onto this board is empty; say how many grams went onto each board.")

    def _offered(self) -> list[tuple[Decimal, Decimal | None]]:
        """What the boxes show: the dose, or the cup that serves several boards. Mixed so, nobody weighed it anew."""
        offered = [(self.dose.resin_g, self.dose.hardener_g)]
        if self.cup is not None:
            offered.append((self.cup.grams, self.dose.hardener_for(self.cup.grams)))
        return offered

    def mixed(self, step: Step) -> dict[str, Any]:
        """What `record_mix` takes."""
        data = self.cleaned_data
        resin, hardener = data["resin_g"], data.get("hardener_g")
        shares = {other: data[name] for name, other in self.others.items() if data.get(name)}
        return {
            "which": self.dose.which,
            "resin_g": resin,
            "hardener_g": hardener,
            "as_planned": not self.dose.withheld and (resin, hardener) in self._offered(),
            "shares": {step: data["onto"], **shares} if shares else None,
        }


def _grams(label: str, step: str, *, required: bool = True) -> MeasureField:
    field = MeasureField(
        label=label, dimension="mass", unit="g", high=MIX_AT_MOST_G, example="28", required=required, width="middle"
    )
    field.step = step
    return field


class WarmthForm(PageForm):
    """How warm the shop is, in °C."""

    temperature = MeasureField(
        label="Temperature today",
        dimension="temperature",
        unit="degC",
        low=5,
        high=40,
        allow_negative=True,
        example="21",
        width="middle",
    )
    button = "So warm it is"


class DoneForm(PageForm):
    """A step is done: how long hands took, and whether the rest was used as planned.

    The minutes may be left empty where it was `begun` by a tap, for they count from then, or where some are planned.
    The box stands empty, so that what is in it was written by somebody. Amounts are `told` unless the dose is withheld.
    """

    minutes = MeasureField(
        label="Minutes",
        dimension="time",
        unit="min",
        high=MINUTES_AT_MOST,
        example="20",
        above_zero=True,
        width="middle",
    )
    rest = forms.BooleanField(label="The rest as planned", required=False)
    note = WordsField(label="A word about it", most=1000, required=False)
    button = "Step done"

    def __init__(
        self,
        *args: Any,
        planned: Sequence[Planned],
        begun: datetime | None = None,
        usual: str = "",
        told: bool = True,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.field("minutes", MeasureField).step = "1"
        self.begun = begun
        self.fields["minutes"].required = begun is None and not usual
        if begun is not None:
            planned_too = f" Planned: {usual}." if usual else ""
            hint = f"Left empty, all since {clock_words(begun, timezone.localdate(begun))}.{planned_too}"
            self.fields["minutes"].help_text = hint
        elif usual:
            self.fields["minutes"].help_text = f"Left empty, {usual} as planned; that teaches nothing."
        left = ", ".join(
            f"{units.show(line.left, line.material.unit)} {line.material.name}" for line in planned if line.left
        )
        if left:
            self.fields["rest"].label = f"Used as planned: {left}" if told else "All was used as it had been planned"
        else:
            del self.fields["rest"]


class UseForm(PageForm):
    """A material a step took, in any unit that its facts can turn into its own."""

    material = PickField(label="Material", choices=[], width="long")
    quantity = StockField(label="How much", hint="In any unit, like 30 g or 0.5 m².", width="middle")
    own = forms.BooleanField(label="It is the customer’s own", required=False)
    layout = ("material", "quantity", "own")
    button = "Book it"

    def __init__(self, *args: Any, planned: Sequence[Planned], materials: Sequence[Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.materials = {str(row.pk): row for row in materials}
        quantity = self.field("quantity", StockField)
        quantity.after = "in its own unit, if none is typed"
        first = [(str(line.material.pk), f"{line.material.name} ({line.material.unit})") for line in planned]
        known = {pk for pk, _ in first}
        rest = [(pk, f"{row.name} ({row.unit})") for pk, row in self.materials.items() if pk not in known]
        grouped = [("", "pick one"), ("Planned here", first), ("All", rest)]
        self.field("material", PickField).choices = grouped if first else [("", "pick one"), *rest]
        chosen = self.materials.get(str(self.data.get("material", "")))
        if chosen is not None:
            quantity.of(chosen)

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        material = self.materials[said["material"]]
        return {"material": material, "quantity": said["quantity"], "customers_own": said["own"]}


class SundriesForm(PageForm):
    """How much of each sundry of a job was used, as planned where nothing is changed; an empty box is none."""

    button = "Book the sundries"

    def __init__(self, *args: Any, planned: Sequence[Planned], **kwargs: Any) -> None:
        self.left = [line for line in planned if line.left]
        fields: dict[str, forms.Field] = {line.material.key: _amount_of(line.material) for line in self.left}
        self.base_fields, self.layout = fields, tuple(fields)
        initial = {line.material.key: as_typed(line.left) for line in self.left}
        super().__init__(*args, initial=initial, **kwargs)

    def amounts(self) -> dict[str, Decimal]:
        """By key what was used, in the material's unit."""
        return {name: self.cleaned_data.get(name) or Decimal(0) for name in self.layout}


def _amount_of(material: Material) -> StockField:
    field = StockField(label=material.name, above_zero=False, required=False, width="middle")
    field.of(material)
    field.after = "" if material.unit == "piece" else material.unit
    return field


class WeighForStepForm(PageForm):
    """A container on the scale after some was taken out of it for a step."""

    gross = weight_field("On the scale, with its container")
    step = PickField(label="What it was for", choices=[], radios=True)
    button = "Book it on the job"

    def __init__(self, *args: Any, steps: Sequence[Step], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.steps = {str(step.pk): step for step in steps}
        self.field("step", PickField).choices = [
            (pk, f"{step.job.takein.tag}, {step.title}") for pk, step in self.steps.items()
        ]
        if len(steps) == 1:
            self.fields["step"].initial = str(steps[0].pk)

    @property
    def picked(self) -> Step:
        return self.steps[self.cleaned_data["step"]]


class UseRightForm(PageForm):
    """The right quantity of a use that was written down wrongly."""

    quantity = StockField(label="How much it really was", hint="In any unit, like 30 g or 0.5 m².", width="middle")
    button = "Correct it"

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.field("quantity", StockField).of(material)


class MinutesForm(PageForm):
    """The right minutes of a step."""

    minutes = MeasureField(
        label="Minutes it really took", dimension="time", unit="min", high=MINUTES_AT_MOST, example="20",
        above_zero=True, width="middle",
    )  # fmt: skip
    button = "Correct it"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.field("minutes", MeasureField).step = "1"


class DayForm(PageForm):
    """All hands-on minutes of a day."""

    minutes = MeasureField(
        label="Hands on in all", dimension="time", unit="min", high=16 * 60, example="6 h 30", above_zero=True,
        hint="In minutes, or like 6 h.", width="middle",
    )  # fmt: skip
    button = "Spread it over the steps"


class WeekForm(DayForm):
    """All hands-on minutes of a week."""

    minutes = MeasureField(
        label="Hands on in all, this week", dimension="time", unit="min", high=7 * 16 * 60, example="31 h",
        above_zero=True, hint="In minutes, or like 31 h.", width="middle",
    )  # fmt: skip


class FoundForm(PageForm):
    """What turned up on the bench."""

    words = WordsField(
        label="What turned up", most=400, lines=3, hint="Like: wet foam 60 mm further, old filler under the box."
    )
    button = "Note it"


class RedoForm(PageForm):
    """A step is done again."""

    reason = WordsField(label="What went wrong", most=400, width="long", hint="Like fish eyes in the hot coat.")
    cause = PickField(label="Whose was it", choices=Cause.choices, radios=True)
    billed = forms.BooleanField(label="The customer is asked to pay for it", required=False)
    button = "Do it again"


class DropForm(PageForm):
    """A step that is not needed."""

    reason = WordsField(label="Why it is not needed", most=200, width="long", hint="Like: came out flush.")
    button = "Leave it out"


def whole_minutes(minutes: float) -> str:
    """Planned minutes as they stand in the box: whole, at least one; empty where none are planned."""
    return f"{max(1, round(minutes))}" if minutes else ""


def as_typed(number: Decimal | float) -> str:
    """A figure as one would type it: 20, 12.5."""
    return numerals.undoubted(f"{Decimal(str(number)).normalize():f}")
