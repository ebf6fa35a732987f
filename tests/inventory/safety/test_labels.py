"""Labels come out at true size, and their code opens the page of what they stick on."""

from __future__ import annotations

import io
import re
import subprocess
from datetime import date
from decimal import Decimal as D

import pytest
import segno
from django.urls import reverse
from pypdf import PdfReader

from inventory import labels
from inventory.catalogue.starting import load_starting_materials
from inventory.models import Container, Lot, Material
from tests.conftest import NOW

MM = 72 / 25.4


def sheet(client, name: str, *args: int, query: str = "") -> tuple[bytes, PdfReader]:
    answer = client.get(reverse(name, args=args) + query)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return answer.content, PdfReader(io.BytesIO(answer.content))


def test_a_label_is_62_by_29_mm_and_says_what_it_is_on(shelf, bench_client):
    shelf.material.hazard = "Styrene: flammable vapour that harms."
    shelf.material.save()
    lot = shelf.receive("0.28", "0", use_by=date(2027, 3, 4), length_mm=D(700), width_mm=D(400), origin="reclaimed")
    container = Container.objects.create(lot=lot, name="drum", tare_g=D(1200))
    said = {
        ("material-label", shelf.material.pk): ["Laminating resin", "A1", "Styrene"],
        ("lot-label", lot.pk): ["Laminating resin", "700 × 400 mm", "good until Thu 4 Mar 2027"],
        ("container-label", container.pk): ["drum, empty 1200 g"],
    }
    for (name, pk), words in said.items():
        _, paper = sheet(bench_client, name, pk)
        [page] = paper.pages
        assert float(page.mediabox.width) == pytest.approx(62 * MM, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(29 * MM, abs=0.1)
        text = " ".join(page.extract_text().replace("\u00a0", " ").split())
        assert all(word in text for word in words), text


def test_every_label_of_a_shelf_has_a_page_of_its_own(shelf, bench_client):
    for number in range(3):
        Material.objects.create(key=f"m{number}", name=f"M{number}", kind="resin", unit="g", shelf="A1")
    Material.objects.create(key="old", name="Old", kind="resin", unit="g", shelf="A1", retired_at=NOW)
    assert len(sheet(bench_client, "shelf-labels", query="?shelf=A1")[1].pages) == 4
    assert bench_client.get(reverse("shelf-labels") + "?shelf=Nowhere").status_code == 404


def read_off_print(pdf: bytes, folder) -> tuple[str, float]:
    """What a reader reads off a 203 dpi print in black and white, and how wide one module of the code is, in mm."""
    import zxingcpp
    from PIL import Image

    (folder / "label.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", "203", "-mono", "-png", folder / "label.pdf", folder / "label"], check=True)
    [picture] = folder.glob("label*.png")
    [code] = zxingcpp.read_barcodes(Image.open(picture).convert("L"))
    corners = code.position
    width = abs(corners.top_right.x - corners.top_left.x) * 25.4 / 203
    return code.text, width


@pytest.mark.papers
@pytest.mark.parametrize("size", ["62x29", "50x25", "100x50"])
def test_the_code_is_read_off_a_203_dpi_print_and_leads_to_the_page(shelf, bench_client, tmp_path, settings, size):
    pdf = sheet(bench_client, "material-label", shelf.material.pk, query=f"?size={size}")[0]
    text, width = read_off_print(pdf, tmp_path)
    assert text == f"{settings.ORIGIN.upper()}/S/M{shelf.material.pk}"
    modules = segno.make(text, error="m", micro=False, boost_error=False).symbol_size(border=0)[0]
    assert width / modules >= 0.4  # 0.4 mm: the smallest that a phone reads at arm's length, common practice
    assert bench_client.get(f"/S/M{shelf.material.pk}")["Location"] == reverse("material", args=[shelf.material.pk])


def test_a_code_is_coarse_because_all_of_it_is_alphanumeric(settings):
    """Alphanumeric mode (ISO/IEC 18004) knows capitals and no small letters: mode 2 in segno's words."""
    for origin in ("https://rack.marram.example", "http://192.168.1.20:8000"):
        settings.ORIGIN = origin
        label = labels.Label("x", (), "", "L123456")
        assert segno.make(label.address, error="m", micro=False).mode == "alphanumeric"
        assert label.side_mm <= 21  # fits the smallest label, 25 mm with its margins, quiet zone and all


def test_the_address_on_a_label_still_works_for_lots_and_containers_and_says_no_to_others(shelf, bench_client, client):
    lot = shelf.receive("100", "1")
    container = Container.objects.create(lot=lot, name="drum", tare_g=D(1200))
    for code, page, pk in (("L", "lot", lot.pk), ("C", "weigh", container.pk)):
        assert bench_client.get(f"/S/{code}{pk}")["Location"] == reverse(page, args=[pk])
    for wrong in ("X1", "M", "M0999", "M²", "M1e3", "m1", "M" + "9" * 30):
        assert bench_client.get(f"/S/{wrong}").status_code == 404, wrong
    assert client.get(f"/S/L{lot.pk}")["Location"].startswith("/login/")


@pytest.mark.parametrize(("size", "width", "height"), [("62x29", 62, 29), ("50x25", 50, 25), ("100x50", 100, 50)])
def test_a_device_remembers_the_labels_in_its_printer(shelf, bench_client, size, width, height):
    assert bench_client.get(reverse("labels") + f"?size={size}").status_code == 200
    [page] = sheet(bench_client, "material-label", shelf.material.pk)[1].pages
    assert float(page.mediabox.width) == pytest.approx(width * MM, abs=0.1)
    assert float(page.mediabox.height) == pytest.approx(height * MM, abs=0.1)
    bench_client.get(reverse("labels") + "?size=1x1")
    [page] = sheet(bench_client, "label-test")[1].pages
    assert float(page.mediabox.width) == pytest.approx(width * MM, abs=0.1)


@pytest.mark.papers
def test_the_ruler_of_the_test_label_is_true(bench_client, tmp_path):
    """From mark 0 to mark 30: 30 mm on a 203 dpi print are 30 · 203 / 25.4 = 240 dots."""
    import numpy as np
    from PIL import Image

    (tmp_path / "label.pdf").write_bytes(sheet(bench_client, "label-test")[0])
    subprocess.run(["pdftoppm", "-r", "203", "-gray", tmp_path / "label.pdf", tmp_path / "label"], check=True)
    [picture] = tmp_path.glob("label*.pgm")
    dark = np.array(Image.open(picture)) < 160
    height = dark.shape[0]
    row = dark[height - round((2 + 3.5) * 203 / 25.4)]  # 3.5 mm above the margin: only the marks of tens are so long
    at = np.flatnonzero(row[: round(40 * 203 / 25.4)])
    assert at[-1] - at[0] == pytest.approx(240, abs=2)


def words_on(pdf: bytes, folder) -> list[list[tuple[float, float, float, float]]]:
    """The boxes of all words of each page, in points from its upper left corner."""
    (folder / "label.pdf").write_bytes(pdf)
    run = subprocess.run(["pdftotext", "-bbox", folder / "label.pdf", "-"], capture_output=True, text=True, check=True)
    box = re.compile(r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">')
    return [[tuple(map(float, found)) for found in box.findall(page)] for page in run.stdout.split("<page ")[1:]]


@pytest.mark.papers
@pytest.mark.parametrize("size", ["62x29", "50x25", "100x50"])
def test_every_starting_material_fits_its_label_with_its_caution(db, tmp_path, size):
    """The widest words we start with, as a container too: one page each, and nothing is cut off or under the code."""
    of = labels.SIZES[size]
    rows = load_starting_materials()
    lot = {"received_on": date(2026, 11, 25), "good_until": date(2027, 12, 30)}
    pages = words_on(labels.of_materials(rows, size), tmp_path)
    assert len(pages) == len(rows)
    for row in rows:
        container = Container(pk=123456, lot=Lot(material=row, **lot), name="bottle, brown, 500 mL", tare_g=D("1234.5"))
        made = words_on(labels.of_container(container, size), tmp_path)
        assert len(made) == 1, row
        pages += made
    low, right = (of.height - labels.MARGIN_MM) * MM, (of.width - labels.MARGIN_MM - 14) * MM
    for page in pages:
        assert max(y1 for *_, y1 in page) <= low + 0.5
        assert max(x1 for _, _, x1, _ in page) <= right  # the code and its white are 14 mm wide and more
        assert min(y1 - y0 for _, y0, _, y1 in page) >= 3.2  # points: small, but it can be read


def test_where_there_is_no_room_the_caution_keeps_its_first_sentence():
    long = labels.Label(
        "Laminating resin, polyester, waxed and promoted",
        ("drum", "received", "good until"),
        "Burns. Wear gloves. " * 6,
        "M1",
    )
    assert long.fitted(labels.SIZES["100x50"]).caution == long.caution
    assert long.fitted(labels.SIZES["50x25"]).caution == "Burns."
    assert labels.Label("Cup", (), "", "M1").fitted(labels.SIZES["50x25"]).caution == ""
