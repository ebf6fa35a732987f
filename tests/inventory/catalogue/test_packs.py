"""Packs typed as the trade says them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.catalogue.packs import pack_content
from inventory.catalogue.starting import STARTING_MATERIALS
from shop.measures import units

STARTING = {start.key: start for start in STARTING_MATERIALS}


@pytest.mark.parametrize(
    ("key", "words", "content"),
    [
        ("rag", "bag of 100 rags", "100"),
        ("rag", "100 Rags", "100"),
        ("rag", "bale of 80 rags", "80"),
        ("rag", "bale of 80", "80"),
        ("foam-56", "10 kg kit", "10000"),
        ("foam-56", "kit, 10 kg", "10000"),
        ("gloves", "box of 50 pairs", "50"),
        ("gloves", "1 pair", "1"),
        ("dust-bag", "pack of 5 bags", "5"),
        ("dust-bag", "2 packs of 5 bags", "10"),
        ("cartridge-set", "1 set", "1"),
        ("cartridge-set", "set", None),
        ("tape-masking", "box of 24 rolls, 25 mm x 50 m", "1200"),
        ("tape-masking", "24 rolls of 50 m", "1200"),
        ("tape-masking", "1 box of 24 rolls, 25 mm × 50 m", "1200"),
        ("tape-masking", "50 m roll", "50"),
        ("masking-film", "6 rolls, 2700 mm x 17 m", "275.4"),
        ("cup", "sleeve of 100 cups", "100"),
        ("brush", "box of 36 brushes", "36"),
        ("disc-p80", "box of 50 discs", "50"),
        ("acetone", "6 bottles of 1 L", "6000"),
        ("acetone", "6 x 1 L bottles", "6000"),
        ("leash-plug", "bag of 20 plugs", "20"),
        ("fin-box", "10 boxes", "10"),
        ("cloth-4oz", "roll, 30 in x 50 m", "38.1"),
    ],
)
def test_a_pack_is_read_as_the_trade_says_it(key, words, content):
    material = STARTING[key]
    if content is None:
        with pytest.raises(units.UnitError) as caught:
            pack_content(words, material.unit, goods=material.name)
        assert caught.value.sentence.startswith("Pack ")
        return
    assert pack_content(words, material.unit, goods=material.name) == Decimal(content)


def test_gloves_counted_in_pairs_are_asked_about():
    """A box of 100 gloves holds 50 pairs; who typed 100 may have meant either."""
    with pytest.raises(units.Ambiguous) as caught:
        pack_content("box of 100 gloves", "piece", goods="Nitrile gloves, pair")
    assert caught.value.readings == ("50 pairs", "100 pairs")
    assert pack_content("50 pairs", "piece", goods="Nitrile gloves, pair") == 50
    assert pack_content("100 pairs", "piece", goods="Nitrile gloves, pair") == 100
    assert pack_content("50 pairs", "piece", goods="Glove, nitrile") == 100  # counted one by one


@pytest.mark.parametrize("words", ["100 beakers", "5 bags", "12 rolls of 50 m of 3 kg", "24 rolls × 25"])
def test_what_is_no_amount_of_the_material_gets_a_sentence(words):
    with pytest.raises(units.UnitError) as caught:
        pack_content(words, "g", goods="Laminating resin, polyester")
    assert caught.value.sentence.startswith(("Pack ", "This material "))
