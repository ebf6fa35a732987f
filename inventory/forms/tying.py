"""What the unknown lines of a supplier's price list are, saved together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.receiving.pricelist import PricedArticle
from inventory.receiving.tying import Strangers, TiedArticle, read_pack
from shop.forms.words import PageForm, PickField, WordsField
from shop.measures.units import UnitError


class TieForm(PageForm):
    """For each line what it is, and where that is a new pack, its words; what stays “not ours” is left alone."""

    button = "Tie these lines"
    all_optional = True

    def __init__(self, *args: Any, lines: Sequence[PricedArticle], strangers: Strangers, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines, self.strangers = list(lines), strangers
        packs = [(f"p{pk}", f"{pack.material.name}: your {pack.words}") for pk, pack in strangers.packs.items()]
        materials = [(f"m{pk}", f"{row.name}: a new pack") for pk, row in strangers.materials.items()]
        choices = [("", "not ours"), *packs, *materials]
        for one in self.lines:
            guess = strangers.guess(one)
            what = (
                f"p{guess.pack.pk}" if guess.pack else f"m{guess.material.pk}" if guess.words and guess.material else ""
            )
            near = f"Perhaps {guess.material.name}." if guess.material and not what else ""
            self.fields[f"what_{one.line}"] = PickField(
                label=f"{one.article} is", choices=choices, required=False, initial=what, hint=near, width="long"
            )
            self.fields[f"pack_{one.line}"] = WordsField(
                label=f"New pack, what {one.article} holds", most=80, required=False, initial=guess.words, width="middle",
                hint="Like 20 kg drum.",
            )  # fmt: skip

    def rows(self) -> list[dict[str, Any]]:
        """Each line with its two boxes, for the page."""
        return [{"line": one, "boxes": [self[f"what_{one.line}"], self[f"pack_{one.line}"]]} for one in self.lines]

    def clean(self) -> dict[str, Any]:
        """Entries, refused where nothing is chosen or a pack is chosen twice."""
        entries = super().clean() or self.cleaned_data
        self.ties = [tie for one in self.lines if (tie := self._tie(one, entries)) is not None]
        if not self.errors and not self.ties:
            raise forms.ValidationError("Nothing is chosen: say at least of one line what it is.")
        packs = [tie.pack.pk for tie in self.ties if tie.pack]
        if len(packs) != len(set(packs)):
            raise forms.ValidationError("Two lines are tied to the same pack: a pack has one article.")
        return entries

    def _tie(self, one: PricedArticle, entries: dict[str, Any]) -> TiedArticle | None:
        what, box = entries.get(f"what_{one.line}", ""), f"pack_{one.line}"
        if not what or box in self.errors:
            return None
        pk = int(what[1:])
        if what.startswith("p"):
            return TiedArticle(one, pack=self.strangers.packs[pk])
        material, words = self.strangers.materials[pk], entries.get(box, "")
        if not words:
            self.add_error(box, f"{one.article}: say what a pack of it holds, like 20 kg drum.")
            return None
        try:
            content = read_pack(words, material, self.strangers.profile, name=f"Pack of {one.article}"[:60])
        except UnitError as problem:
            self.add_error(box, ValidationError(problem.sentence, code="unreadable"))
            return None
        return TiedArticle(one, material=material, words=words, content=content)
