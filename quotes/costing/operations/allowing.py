"""The allowance: so much of a material and so many minutes for anything the other operations do not know."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from quotes.costing.basis.constants import practice
from quotes.costing.basis.going_off import Wait
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import Setting, choice, material, number
from quotes.costing.parts.inputs import Construction, CoreMaterial
from quotes.costing.parts.refusals import FLOORS, Stuff, stuff_of
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Gap, Work

ALLOWED_FACTOR = practice("allowance_factor", 1.0, 0.7, 1.6, "1", "allowed material really used over planned")
NOT_ON_BOARD = "not the board"
_PER = {"job": (1.0, ""), "piece": (1.0, ""), "metre": (1000.0, "m"), "m2": (10_000.0, "m²"), "litre": (1000.0, "L")}


class FlatAllowance(Operation):
    """Allow so much material and so many minutes, by the job, piece, metre, m² or litre of a measure."""

    key = "allowance"
    name = "Allowance"
    settings = (
        choice("per", "for each", "job", tuple(_PER)),
        number("amount", "measure it goes by (1 for a job)", 1, "", 0, 1e9),
        material("material", "material (empty: none)", ""),
        number("quantity", "material for each, in its own unit", 0, "", 0, 1e6),
        number("set_up_minutes", "minutes once", 0, "min", 0, 6000),
        number("minutes", "minutes for each", 0, "min", 0, 6000),
        number("wait_hours", "hours before the next step", 0, "h", 0, 2000),
        number("weight_g", "weight added for each", 0, "g", 0, 1e5),
        Setting("what", "what it is", "words", "Allowance"),
        choice("over", "what the material touches", "foam", ("foam", "glass", NOT_ON_BOARD)),
    )

    def puts(
        self, told: Mapping[str, Any], board: Construction, materials: Mapping[str, CoreMaterial]
    ) -> tuple[Stuff, ...]:
        """Stuff that its material is; nothing where it says that no board is touched."""
        key = told["material"]
        return stuff_of(key, materials.get(key)) if key and told["over"] != NOT_ON_BOARD else ()

    def work(self, at: Bench) -> Work:
        """Material and minutes in proportion to the measure, counted in the unit that `per` names.

        Raises Gap where the material is not named.
        """
        scale, symbol = _PER[at.words("per")]
        count = at.number("amount") / scale
        words = Words("{:g} {}", count, symbol or at.words("per"))
        work = at.work(at.words("what"))
        key = at.words("material")
        if key:
            found = at.material(key)
            for stuff in self.puts(at.settings, at.board, at.shop.materials) if at.number("quantity") else ():
                if stuff in FLOORS:
                    at.warm_enough(stuff, found.facts)
            formula = Words("{:g} {} for each of {}", at.number("quantity"), found.unit, words)
            if found.unit == "piece":
                work.pieces(key, at.number("quantity") * count, formula, ALLOWED_FACTOR)
            else:
                work.take(key, at.number("quantity") * count, found.unit, formula, ALLOWED_FACTOR)
        elif at.number("quantity"):
            text = "The allowance has a quantity but no material: name the material, or set the quantity to 0."
            raise Gap(at.problem("material", text, "material"))
        work.takes_minutes(
            at.number("set_up_minutes") + at.number("minutes") * count,
            Words("{:g} min + {:g} min for each of {}", at.number("set_up_minutes"), at.number("minutes"), words),
        )
        work.weight_g = at.number("weight_g") * count
        hours = at.number("wait_hours")
        work.wait = Wait(hours, hours, hours)
        return work
