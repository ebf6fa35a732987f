"""Labels come out at true size, and their code opens the page of what they stick on."""

from __future__ import annotations

import io
import shutil
import subprocess
from datetime import date
from decimal import Decimal as D

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.models import Container, Material
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


@pytest.mark.papers
@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not installed")
def test_the_code_is_read_off_a_203_dpi_print(shelf, bench_client, tmp_path, settings):
    import zxingcpp
    from PIL import Image

    (tmp_path / "label.pdf").write_bytes(sheet(bench_client, "material-label", shelf.material.pk)[0])
    subprocess.run(["pdftoppm", "-r", "203", "-mono", "-png", tmp_path / "label.pdf", tmp_path / "label"], check=True)
    [picture] = tmp_path.glob("label*.png")
    [code] = zxingcpp.read_barcodes(Image.open(picture).convert("L"))
    assert code.text == settings.ORIGIN + reverse("material", args=[shelf.material.pk])
