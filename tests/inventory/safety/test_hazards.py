"""What can hurt: what must not stand together is said where it stands and where it is handled; the data sheet leads."""

from __future__ import annotations

from decimal import Decimal
from html import unescape

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.catalogue.starting import STARTING_MATERIALS, load_starting_materials
from inventory.models import DataSheet, Lot, Material, Safety, StoragePlace
from inventory.safety import storing as safety
from inventory.safety.hazards import APART, COMES_FIRST, HAZARDS, IGNITION, not_together
from inventory.stock import ledger
from shop.models import JournalEntry
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY
from tests.inventory.buying.test_planning import day, plain

PDF = b"%PDF-1.7\n1 0 obj << >> endobj\n%%EOF"


def material(key: str, shelf: str, *classes: str, unit: str = "mL", **more) -> Material:
    row = Material.objects.create(key=key, name=key.capitalize(), kind="solvent", unit=unit, shelf=shelf)
    Safety.objects.create(material=row, classes=list(classes), **more)
    return row


def clashes() -> set[tuple[str, str]]:
    return {
        (clash.material.key, clash.other.key if clash.other else "")
        for shelf in safety.everything_hazardous()
        for clash in shelf.clashes
    }


@pytest.mark.parametrize("other", ["promoter", "flammable", "base", IGNITION])
def test_peroxide_is_kept_from_what_the_sources_name(other):
    """HSE Guidance Note CS21 (accelerators, amines, acids, alkalis), ICSC 1028 (acids, bases, flames, hot surfaces),
    TM 38-410 (acetone, promoters)."""
    assert not_together(["peroxide"], [other])
    assert not_together([other], ["peroxide"]) == not_together(["peroxide"], [other])


def test_solvent_is_kept_from_a_source_of_ignition_and_not_from_itself():
    assert not_together(["flammable"], [IGNITION])
    assert not_together(["flammable"], ["flammable"]) == []
    assert not_together(["dust"], ["isocyanate"]) == []


def test_every_pair_names_known_classes_and_a_source():
    for pair in APART:
        assert {pair.first, pair.second} <= {*HAZARDS, IGNITION}
        assert pair.source
    assert all(hazard.source and hazard.keep for hazard in HAZARDS.values())


def test_what_stands_together_is_told_apart_by_shelf(db):
    material("peroxide", "A", "peroxide")
    material("promoter", "A", "promoter")
    material("acetone", "B", "flammable")
    assert clashes() == {("peroxide", "promoter")}
    Material.objects.filter(key="acetone").update(shelf="A")
    assert clashes() == {("peroxide", "promoter"), ("acetone", "peroxide")}
    Material.objects.filter(key="promoter").update(retired_at=NOW)
    assert clashes() == {("acetone", "peroxide")}


def test_a_place_with_a_source_of_ignition_or_too_warm_is_no_place_for_it(keeper):
    material("acetone", "A", "flammable")
    material("peroxide", "B", "peroxide", keep_below_c=Decimal(25))
    assert clashes() == set()
    safety.set_place(name="A", ignition=True, warmest_c=None, signed=Signed(keeper, NOW))
    assert clashes() == {("acetone", "")}
    safety.set_place(name="A", ignition=False, warmest_c=None, signed=Signed(keeper, NOW))
    safety.set_place(name="B", ignition=False, warmest_c=Decimal("28.04"), signed=Signed(keeper, NOW))
    [clash] = [clash for shelf in safety.everything_hazardous() for clash in shelf.clashes]
    assert clash.why == "It gets 28 °C there; keep it below 25 °C."
    safety.set_place(name="B", ignition=False, warmest_c=Decimal(25), signed=Signed(keeper, NOW))
    assert clashes() == set()


def test_more_than_the_storage_limit_is_said(keeper):
    row = material("acetone", "A", "flammable", keep_at_most=Decimal(5000))
    cost = {"value": Decimal(9), "signed": Signed(keeper, NOW)}
    ledger.receive(lot=Lot(material=row, received_on=TODAY), quantity=Decimal(5000), **cost)
    assert safety.at_hand(row).kept.warnings == []
    ledger.receive(lot=Lot(material=row, received_on=TODAY), quantity=Decimal(1), **cost)
    assert [plain(words) for words in safety.at_hand(row).kept.warnings] == [
        "5001 mL are stored; no more than 5000 mL should be."
    ]


def test_a_new_shop_starts_with_classes_and_nothing_standing_wrong(db):
    load_starting_materials()
    assert clashes() == set()
    kept = {row.material.key: row.classes for row in Safety.objects.select_related("material")}
    assert kept["mekp"] == ["peroxide"]
    assert kept["acetone"] == ["flammable"]
    assert kept["epoxy-hardener"] == ["sensitiser", "base"]
    assert kept.keys() == {start.key for start in STARTING_MATERIALS if start.hazard}
    assert all(kept.values())


def test_classes_and_limits_are_kept_and_a_word_nobody_knows_is_refused(keeper, shelf):
    by = {"signed": Signed(keeper, NOW), "material": shelf.material}
    made = safety.set_safety(
        classes=["flammable", "peroxide"], keep_at_most=Decimal("5000.00001"), keep_below_c=Decimal("24.96"), **by
    )
    assert (made.classes, made.keep_at_most, made.keep_below_c) == (["peroxide", "flammable"], 5000, 25)
    safety.set_safety(classes=[], keep_at_most=None, keep_below_c=None, **by)
    assert Safety.objects.get().classes == []
    with pytest.raises(Refused, match="no hazard class"):
        safety.set_safety(classes=["spooky"], keep_at_most=None, keep_below_c=None, **by)
    with pytest.raises(Refused):
        safety.set_safety(classes=[], keep_at_most=Decimal(0), keep_below_c=None, **by)
    assert JournalEntry.objects.filter(verb="safety.change").count() == 2


def test_the_bench_changes_nothing_here(bench, shelf):
    with pytest.raises(PermissionDenied):
        safety.set_safety(
            material=shelf.material, classes=[], keep_at_most=None, keep_below_c=None, signed=Signed(bench, NOW)
        )
    with pytest.raises(PermissionDenied):
        safety.keep_sheet(material=shelf.material, content=PDF, name="x.pdf", issued_on=None, signed=Signed(bench, NOW))


@pytest.mark.parametrize("page", ["safety", "place"])
def test_an_odd_temperature_is_taken_once_it_is_ticked(page, shelf, counter_client, form_key):
    if page == "safety":
        where, name = reverse("safety-edit", args=[shelf.material.pk]), "keep_below_c"
    else:
        where, name = f"{reverse('place-edit')}?shelf={shelf.material.shelf}", "warmest_c"
    assert counter_client.post(where, {name: "70 °C", "submission_key": form_key()}).status_code == 422
    answer = counter_client.post(where, {name: "70 °C", f"odd_{name}": "on", "submission_key": form_key()})
    assert answer.status_code == 302
    assert getattr(Safety.objects.get() if page == "safety" else StoragePlace.objects.get(), name) == 70


def send(client, shelf, form_key, content: bytes, name: str = "resin.pdf", **more):
    entries = {"submission_key": form_key(), "issued_on": "", **more}
    file = SimpleUploadedFile(name, content, "application/pdf")
    return client.post(reverse("data-sheet", args=[shelf.material.pk]), {**entries, "sheet": file})


def test_a_data_sheet_is_kept_and_read_back_as_it_was(shelf, counter_client, bench_client, form_key, client):
    assert send(counter_client, shelf, form_key, PDF, issued_on="2026-01-31").status_code == 302
    sheet = DataSheet.objects.get()
    where = reverse("data-sheet-file", args=[sheet.pk])
    answer = bench_client.get(where)
    assert b"".join(answer.streaming_content) == PDF
    assert (answer["Content-Type"], answer["X-Content-Type-Options"]) == ("application/pdf", "nosniff")
    assert client.get(where).status_code == 302  # to the login
    assert sheet.file.name.endswith(".pdf")
    assert "resin" not in sheet.file.name


def test_the_newest_sheet_leads_and_the_older_stays(shelf, counter_client, bench_client, form_key):
    send(counter_client, shelf, form_key, PDF + b"1", "old.pdf")
    send(counter_client, shelf, form_key, PDF + b"2", "new.pdf")
    assert safety.at_hand(shelf.material).kept.sheet.name == "new.pdf"
    page = unescape(bench_client.get(reverse("data-sheet", args=[shelf.material.pk])).content.decode())
    assert page.index("new.pdf") < page.index("old.pdf")
    assert "Keep it" not in page  # the bench reads


@pytest.mark.parametrize(
    ("content", "more", "said"),
    [
        (b"<html>", {}, "This is no PDF"),
        (b"", {}, "This file is empty"),
        (PDF + b"0" * 10_000_000, {}, "larger than 10 MB"),
        (PDF, {"issued_on": "2099-01-01"}, "must not lie in the future"),
        (PDF, {"issued_on": "31.1."}, "must be a day"),
    ],
)
def test_what_is_no_data_sheet_is_refused(shelf, counter_client, form_key, content, more, said):
    answer = send(counter_client, shelf, form_key, content, **more)
    assert answer.status_code == 422
    assert said in unescape(answer.content.decode())
    assert not DataSheet.objects.exists()


def test_a_form_without_a_file_says_so(shelf, counter_client, form_key):
    answer = counter_client.post(
        reverse("data-sheet", args=[shelf.material.pk]), {"submission_key": form_key(), "issued_on": ""}
    )
    assert answer.status_code == 422
    assert "No file is chosen" in answer.content.decode()


@pytest.mark.parametrize("page", ["material", "use", "write-off"])
def test_it_is_said_where_the_material_is_handled(shelf, bench_client, page):
    Safety.objects.create(material=shelf.material, classes=["peroxide"])
    shelf.receive("100", "1")
    material("promoter", "A1", "promoter")
    said = unescape(bench_client.get(reverse(page, args=[shelf.material.pk])).content.decode())
    for words in ("Organic peroxide", "Promoter", "can explode", COMES_FIRST, "No data sheet is kept here yet"):
        assert words in said


def test_the_page_of_all_that_can_hurt_asks_the_same_queries_for_one_and_for_many(
    keeper, counter_client, django_assert_num_queries
):
    material("peroxide", "A", "peroxide")
    with django_assert_num_queries(3):
        safety.everything_hazardous()
    for number in range(20):
        row = material(f"acetone-{number}", "A", "flammable")
        safety.keep_sheet(material=row, content=PDF, name="x.pdf", issued_on=day(-1), signed=Signed(keeper, NOW))
    with django_assert_num_queries(3):
        safety.everything_hazardous()
    page = unescape(counter_client.get(reverse("hazards")).content.decode())
    assert "To put right" in page
    assert COMES_FIRST in page


def test_a_place_is_changed_only_where_something_stands(shelf, counter_client, form_key):
    url = reverse("place-edit")
    assert counter_client.get(url + "?shelf=Nowhere").status_code == 404
    entries = {"ignition": "on", "warmest_c": "82 °F", "submission_key": form_key()}
    assert counter_client.post(url + "?shelf=A1", entries).status_code == 302
    from inventory.models import StoragePlace

    place = StoragePlace.objects.get()
    assert (place.name, place.ignition, place.warmest_c) == ("A1", True, Decimal("27.8"))  # (82 − 32) / 1.8
