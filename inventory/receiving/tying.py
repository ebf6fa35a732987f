"""Lines of a supplier's price list that the shop does not know yet are tied to its materials, several at once."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from inventory.catalogue.materials import NOT_SAID, add_pack, change_pack
from inventory.catalogue.packs import pack_content
from inventory.models import Material, Pack, PriceList
from inventory.receiving.naming import Names, pack_words
from inventory.receiving.pricelist import PricedArticle, read_list
from inventory.receiving.supplier_prices import compare
from shop.measures.units import UnitError
from shop.models import Profile
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

AT_ONCE = 10  # lines on a page


class TiedArticle(NamedTuple):
    """An article of the list with what it is: a pack the shop buys already, or a new pack of a material."""

    priced: PricedArticle
    pack: Pack | None = None
    material: Material | None = None
    words: str = ""
    content: Decimal | None = None


class TieGuess(NamedTuple):
    """What a line may be: a pack, or a material with the pack's words; all empty where nothing is near."""

    pack: Pack | None = None
    material: Material | None = None
    words: str = ""


class Strangers:
    """The lines of a list that are no pack of the shop's, what they may be tied to, and a guess for each.

    Six queries, however long the list is.
    """

    def __init__(self, price_list: PriceList, profile: Profile) -> None:
        found = compare(price_list)
        self.profile, self.supplier = profile, price_list.supplier_id
        self.lines = list(found.strangers)
        self.packs = {pack.pk: pack for pack in found.without_article}
        self.materials = {row.pk: row for row in Material.objects.in_use().order_by("name")}
        self.names = Names({pk: row.name for pk, row in self.materials.items()})

    def keep_tied(self, lines: Sequence[PricedArticle]) -> None:
        """Offers the packs that these lines are tied to by now, so that a form sent twice reads the same twice."""
        codes = [priced.article for priced in lines]
        for pack in (
            Pack.objects.in_use().filter(supplier=self.supplier, supplier_code__in=codes).select_related("material")
        ):
            self.packs[pack.pk] = pack

    def about(self, words: str) -> list[PricedArticle]:
        """The lines that hold the words, those with a guess first."""
        wanted = words.casefold().split()
        held = [one for one in self.lines if all(word in f"{one.article} {one.words}".casefold() for word in wanted)]
        return sorted(held, key=lambda one: self.names.meant(one.words) is None)

    def guess(self, priced: PricedArticle) -> TieGuess:
        """The material meant, with the pack's words if they can be read.

        The shop's own pack goes before where it holds as much: one of another size would get the wrong price.
        """
        material = self.materials.get(self.names.meant(priced.words) or 0)
        if material is None:
            return TieGuess()
        words = pack_words(priced.words, material.name)
        content = content_of(words, material, self.profile)
        known = [pack for pack in self.packs.values() if pack.material_id == material.pk and pack.content == content]
        return (
            TieGuess(pack=known[0]) if len(known) == 1 else TieGuess(material=material, words=words if content else "")
        )


def content_of(words: str, material: Material, profile: Profile) -> Decimal | None:
    """What a pack of these words holds in the material's unit; None where they cannot be read."""
    try:
        return read_pack(words, material, profile) if words else None
    except UnitError:
        return None


def read_pack(words: str, material: Material, profile: Profile, name: str = "Pack") -> Decimal:
    """What a pack of these words holds in the material's unit. Raises UnitError."""
    return pack_content(
        words,
        material.unit,
        **material.unit_facts(),
        volume_system=profile.volume_system,
        goods=material.name,
        name=name,
    )


def lines_of(price_list: PriceList, profile: Profile) -> dict[int, PricedArticle]:
    """Every article of the list by its line."""
    return {priced.line: priced for priced in read_list(price_list.text, currency=profile.currency).priced}


@action("pricelist.tie", *SEES_MONEY)
def tie(*, price_list: PriceList, ties: Sequence[TiedArticle], signed: Signed) -> int:
    """These articles are those packs from now on, all or none; how many. No price changes yet. Raises Refused."""
    row = PriceList.objects.select_for_update(of=("self",)).select_related("supplier").get(pk=price_list.pk)
    if row.taken_at is not None:
        raise Refused("This list was taken over already; send it again to tie more of its lines.")
    codes = Pack.objects.in_use().filter(supplier=row.supplier).exclude(supplier_code="")
    known = {code.casefold() for code in codes.values_list("supplier_code", flat=True)}
    for one in ties:
        article = one.priced.article
        if article.casefold() in known:
            raise Refused(f"Article {article} is tied already: open the list again.")
        if len(article) > 60:
            raise Refused(f"Article {article[:20]}… is longer than 60 characters, which is the most that can be kept.")
        known.add(article.casefold())
        _tie(one, row, signed)
    words = f"Tied {len(ties)} articles of {row}"
    signed.record(row, words)
    return len(ties)


def _tie(one: TiedArticle, row: PriceList, signed: Signed) -> None:
    if one.pack is not None:
        code = one.priced.article
        change_pack(pack=one.pack, supplier_code=code, preferred=one.pack.preferred, gone=False, signed=signed)
        return
    assert one.material is not None, "a line is tied to a pack or to a material"
    assert one.content is not None, "a new pack holds something"
    bought = one.material.packs.in_use().exclude(supplier__name__iexact=NOT_SAID).exists()
    pack = Pack(
        material=one.material, supplier=row.supplier, words=one.words, content=one.content,
        supplier_code=one.priced.article, preferred=not bought,
    )  # fmt: skip
    add_pack(pack=pack, price=None, from_day=row.from_day, signed=signed)
