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
import quotes.costing, quotes.planner
seen = ["shop.measures.units", "shop.measures.money", "shop.papers.drawings", "shop.papers.charts", "shop.papers.sections", "inventory.stock.valuation", "quotes.totals", "quotes.totals.taxing"]
for room in (quotes.costing, quotes.planner):
    seen += [m.name for m in pkgutil.walk_packages(room.__path__, room.__name__ + ".")]
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


def test_nine_files_in_ten_are_short_and_so_are_nine_functions():
    lines, functions = [], []
    for path in product_files():
        text = path.read_text()
        lines.append(len(text.splitlines()))
        tree = ast.walk(ast.parse(text))
        functions += [one.end_lineno - one.lineno + 1 for one in tree if isinstance(one, ast.FunctionDef)]
    assert sorted(lines)[len(lines) * 9 // 10] <= 250
    assert sorted(functions)[len(functions) * 9 // 10] <= 22


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


PURE = ("inventory/stock/valuation.py", "inventory/buying/ordering.py")
Documented = ast.FunctionDef | ast.ClassDef


def core_files() -> list[Path]:
    """The pure core: costing, the planner, and the sums of stock, orders, documents and measures beside them."""
    rooms = [HOUSE / room for room in ("quotes/costing", "quotes/planner", "quotes/totals", "shop/measures")]
    return [path for room in rooms for path in room.rglob("*.py")] + [HOUSE / path for path in PURE]


def documented(body: list[ast.stmt], *, private: bool = False) -> list[Documented]:
    """Functions and classes of a module, and of its classes; what is private only where asked for.

    Django's Meta says nothing that its model does not.
    """
    found: list[Documented] = []
    for node in body:
        if isinstance(node, Documented) and node.name != "Meta" and (private or not node.name.startswith("_")):
            found += [node, *(documented(node.body, private=private) if isinstance(node, ast.ClassDef) else [])]
    return found


def test_whatever_is_public_in_the_core_says_what_it_is():
    assert len(core_files()) > 100
    for path in core_files():
        tree = ast.parse(path.read_text())
        assert path.name == "__init__.py" or ast.get_docstring(tree), f"{path}: what is this room?"
        assert [node.name for node in documented(tree.body) if not ast.get_docstring(node)] == [], path


def test_what_is_private_in_the_core_and_longer_than_eight_lines_says_so_too():
    for path in core_files():
        for node in documented(ast.parse(path.read_text()).body, private=True):
            long = isinstance(node, ast.FunctionDef) and node.end_lineno and node.end_lineno - node.lineno > 8
            assert not long or ast.get_docstring(node), f"{path}: {node.name}"


QUANTITY = re.compile(r"\b(float|Decimal|Fraction|Floats)\b")
UNIT = re.compile(
    r"(?<!\w)("
    r"mm|cm²|m²|mL|L|g|kg|µm|tex|°C|min|kg/m³|g/m²|grams?|litres?|metres?|millilitres|minutes?|hours?|days?|years?"
    r"|per cent|%|percentage points|currency|minor units?|cents?|1/10 000|units?|decimals?|boards|pieces?"
    r"|shares?|factors?|multiples?|ratios?|rates?|chances?|numbers?|logarithms?|sd|variances?|covariances?|weights?|precision"
    r")(?!\w)",
    re.IGNORECASE,
)


def lacks_its_unit(node: Documented) -> bool:
    """Whether a function takes or gives a quantity, or a class holds one, and says neither unit nor that it has none.

    A share, a factor, a chance, a number, a logarithm and its sd have none.
    """
    if isinstance(node, ast.ClassDef):
        types = [each.annotation for each in node.body if isinstance(each, ast.AnnAssign)]
    else:
        given = [*node.args.args, *node.args.kwonlyargs]
        types = [each for each in [*(one.annotation for one in given), node.returns] if each is not None]
    counts = any(QUANTITY.search(ast.unparse(each)) for each in types)
    return counts and not UNIT.search(ast.get_docstring(node) or "")


def test_whatever_in_the_core_has_to_do_with_a_quantity_says_in_which_unit():
    bare = 'def resin(length: float) -> float:\n    """Resin for a length."""'
    told = bare.replace("Resin for a length.", "Resin in g for a length in mm.")
    assert [lacks_its_unit(documented(ast.parse(each).body)[0]) for each in (bare, told)] == [True, False]
    for path in core_files():
        assert [node.name for node in documented(ast.parse(path.read_text()).body) if lacks_its_unit(node)] == [], path


def test_no_docstring_leans_on_its_neighbour():
    for path in product_files():
        for node in documented(ast.parse(path.read_text()).body, private=True):
            assert not (ast.get_docstring(node) or "").startswith("The same"), f"{path}: {node.name}"


def test_nine_in_ten_of_what_is_public_says_what_it_is():
    public = [node for path in product_files() for node in documented(ast.parse(path.read_text()).body)]
    assert len(public) > 2000
    assert sum(bool(ast.get_docstring(node)) for node in public) >= 0.9 * len(public)


def test_the_map_names_only_what_is_there():
    files = [path.relative_to(HOUSE).as_posix() for path in HOUSE.rglob("*.py") if ".venv" not in path.parts]
    told = re.findall(r"`([^`\n]+)`", (HOUSE / "DEVELOPERS.md").read_text())
    named = [word for word in told if re.fullmatch(r"[\w/]+\.py", word)]
    assert len(named) > 60
    assert [name for name in named if not any(f"/{path}".endswith(f"/{name}") for path in files)] == []
    classes = {word for each in told for word in re.findall(r"\b[A-Z][a-z]+(?:[A-Z][a-z]+)+\b", each)}
    code = "\n".join((HOUSE / path).read_text() for path in files)
    assert len(classes) > 15
    assert [name for name in sorted(classes) if not re.search(rf"\b{name}\b", code)] == []
