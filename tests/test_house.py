"""The rules of the house that no other tool checks."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

HOUSE = Path(__file__).resolve().parent.parent

REFUSE_DJANGO = """
import importlib, pkgutil, sys

class Refuse:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] == "django":
            raise ImportError(f"a pure room asked for {name}")

sys.meta_path.insert(0, Refuse())
import quotes.costing
seen = ["shop.measures.units", "shop.measures.money", "shop.papers.drawings", "shop.papers.charts", "shop.papers.sections", "inventory.stock.valuation", "quotes.totals"]
seen += [m.name for m in pkgutil.walk_packages(quotes.costing.__path__, "quotes.costing.")]
for name in seen:
    importlib.import_module(name)
print(len(seen))
"""


def test_the_pure_rooms_load_where_there_is_no_django():
    # import-linter does not see what a package's __init__ brings in when the core is imported; a fresh interpreter
    # does.
    run = subprocess.run([sys.executable, "-c", REFUSE_DJANGO], cwd=HOUSE, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert int(run.stdout) > 15


def test_the_lock_names_no_address():
    for lock in ("requirements.txt", "requirements-dev.txt"):
        text = (HOUSE / lock).read_text()
        assert "--hash=sha256:" in text
        assert not re.search(r"https?://|file:|--(extra-)?index-url|--find-links", text)


def test_no_template_computes_money_or_writes_a_style():
    for template in (HOUSE / "templates").rglob("*.html"):
        text = template.read_text()
        if "papers" not in template.parts:
            assert not re.search(r"<style|\sstyle=|<script(?![^>]*\bsrc=)|\son[a-z]+=", text), template
        assert "|safe" not in text, f"{template}: what people type is never markup"
        assert not re.search(r"\{%\s*widthratio|\|add:", text), f"{template}: templates compute nothing"


def test_a_form_that_changes_something_is_written_by_its_tag():
    """By hand only where the tag can not be: logging out, and what was carried across a login."""
    by_hand = {"base.html", "carried.html"}
    for template in (HOUSE / "templates").rglob("*.html"):
        if template.name not in by_hand and "shed" not in template.parts:
            assert not re.search(r"<form[^>]*method=.post|shed/(sending|key)\.html", template.read_text()), template


def test_an_address_name_leads_to_one_view():
    """One name with two patterns is fine where both open the same page, as receiving with and without a material."""
    views: dict[str, set[object]] = {}
    for room in ("shop", "inventory", "quotes"):
        for pattern in import_module(f"{room}.urls").urlpatterns:
            if getattr(pattern, "name", None):
                views.setdefault(pattern.name, set()).add(pattern.callback)
    assert len(views) > 100
    assert [name for name, found in views.items() if len(found) > 1] == []


PLUMBING = {"apps", "settings", "urls", "shop_urls", "label_urls", "wsgi", "migrations", "management", "static"}


def product_files() -> list[Path]:
    return [
        path for room in ("shop", "inventory", "quotes") for path in (HOUSE / room).rglob("*.py")
        if "migrations" not in path.parts and path.stat().st_size
    ]  # fmt: skip


def test_no_folder_holds_more_than_sixteen_rooms_on_one_level():
    folders = {path.parent for path in product_files()}
    assert len(folders) > 30
    for folder in folders:
        rooms = {path.stem for path in folder.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()}
        assert len(rooms - PLUMBING - {"__init__"}) <= 16, f"{folder.relative_to(HOUSE)} holds {sorted(rooms)}"


def test_no_file_is_longer_than_can_be_read_in_one_go():
    lengths = {path.relative_to(HOUSE): len(path.read_text().splitlines()) for path in product_files()}
    assert {str(path): length for path, length in lengths.items() if length > 400} == {}


def test_a_class_name_has_one_meaning():
    homes: dict[str, list[str]] = {}
    for path in product_files():
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.ClassDef) and node.name != "Command" and not node.name.startswith("_"):
                homes.setdefault(node.name, []).append(str(path.relative_to(HOUSE)))
    assert len(homes) > 300
    assert {name: found for name, found in homes.items() if len(found) > 1} == {}


def public_silent(body: list[ast.stmt], where: str) -> list[str]:
    """Public functions and classes of a module, and of its public classes, that have no docstring."""
    found = []
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            found += [] if ast.get_docstring(node) else [f"{where}: {node.name}"]
            found += public_silent(node.body, where) if isinstance(node, ast.ClassDef) else []
    return found


def test_whatever_is_public_in_the_core_says_what_it_is():
    core = list((HOUSE / "quotes" / "costing").rglob("*.py"))
    assert len(core) > 80
    assert [silent for path in core for silent in public_silent(ast.parse(path.read_text()).body, path.name)] == []
