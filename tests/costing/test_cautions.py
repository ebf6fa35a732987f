"""A step's cautions in one line: nothing that protects is left out of it."""

from __future__ import annotations

from quotes.costing.basis import cautions as c


def test_every_caution_of_the_house_has_its_few_words():
    ours = {text for name, text in vars(c).items() if name.isupper() and isinstance(text, str)} - {c.SHEET_RULES}
    assert set(c.IN_SHORT) == ours


def test_what_is_worn_in_the_short_words_stands_in_the_full_ones():
    worn = ("mask", "goggles", "gloves", "sleeves", "ear protection")
    for full, (_, remedies) in c.IN_SHORT.items():
        said = " ".join(remedies)
        assert [one for one in worn if one in full] == [one for one in worn if one in said], full


def test_several_cautions_name_each_danger_and_each_thing_to_wear_once():
    said = c.in_short([c.STYRENE, c.PEROXIDE, c.STYRENE, c.MICROSPHERES])
    assert said == (
        "Styrene vapour, MEKP, microspheres: organic-vapour mask, no flame, goggles, gloves, "
        "mask on before the tin is opened"
    )


def test_a_caution_that_is_not_ours_is_said_up_to_its_first_stop():
    assert c.in_short(["64 kg/m³ is unusual for a pocket (30 to 48)."]) == "64 kg/m³ is unusual for a pocket (30 to 48)"
    assert c.in_short([]) == ""
