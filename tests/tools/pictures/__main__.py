"""Run the demo in a folder of its own, serve it, and take the pictures of README. Needs chromium and poppler-utils."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

HOUSE = Path(__file__).resolve().parents[3]
HERE = Path(__file__).resolve().parent
ORIGIN = "http://127.0.0.1:8061"
WIDE, PHONE = {"width": 1120, "height": 760}, {"width": 390, "height": 760}

# name: where it is, how wide the window is, whether the whole page is taken
SCREENS = {
    "rack": ("/", WIDE, True),
    "ways": ("/quote/1/", WIDE, True),
    "choose": ("/quote/6/", WIDE, True),
    "choose-customer": ("/quote/6/customer/", WIDE, True),
    "why": ("/way/2/why/", WIDE, False),
    "job": ("/job/2/", WIDE, True),
    "step": ("/job/2/", PHONE, False),
    "week": ("/week/", WIDE, False),
    "store": ("/store/", WIDE, False),
    "recipe": ("/recipes/glass-on-twin/", WIDE, False),
    "price-list": ("/price-list/", WIDE, False),
    "learned": ("/learned/", WIDE, False),
    "backtest": ("/learned/backtest/", {"width": 1120, "height": 1340}, False),
    "operation": ("/learned/operations/sand/minutes/", WIDE, False),
}


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "DATA_DIR": folder, "ORIGIN": ORIGIN, "DRYRACK_DEMO": "1"}
        subprocess.run([sys.executable, "manage.py", "demo"], cwd=HOUSE, env=env, check=True)
        served = subprocess.Popen([sys.executable, "manage.py", "serve"], cwd=HOUSE, env=env)
        try:
            _wait()
            _screens()
        finally:
            served.terminate()
    _papers()
    return 0


def _wait() -> None:
    for _ in range(120):
        try:
            urllib.request.urlopen(f"{ORIGIN}/health/", timeout=2)
            return
        except OSError:
            time.sleep(0.5)
    raise SystemExit("The service did not start.")


def _screens() -> None:
    from quotes.management.demo_shop import PASSWORD

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for name, (where, size, whole) in SCREENS.items():
            page = browser.new_context(viewport=size).new_page()
            page.goto(ORIGIN + "/login/")
            page.fill("[name=username]", "orla")
            page.fill("[name=password]", PASSWORD)
            page.click("main button[type=submit]")
            page.wait_for_load_state()
            page.goto(ORIGIN + where)
            if name == "step":
                page.locator("a.go").filter(has_text="Go on").first.click()
                page.wait_for_load_state()
            page.screenshot(path=HERE / f"{name}.png", full_page=whole)
            page.context.close()
            _lighten(HERE / f"{name}.png")
        browser.close()


def _papers() -> None:
    for kind, name in {
        "quote": "quote",
        "three-dings": "choose",
        "job-sheet": "job-sheet",
        "invoice": "invoice",
    }.items():
        paper = max((HOUSE / "out").glob(f"{kind}-*.pdf"), key=lambda path: path.stat().st_mtime)
        target = HERE / f"paper-{name}"
        subprocess.run(["pdftoppm", "-r", "72", "-png", "-singlefile", str(paper), str(target)], check=True)
        _lighten(target.with_suffix(".png"))


def _lighten(path: Path) -> None:
    Image.open(path).convert("RGB").quantize(64).save(path, optimize=True)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    import django

    django.setup()
    sys.exit(main())
