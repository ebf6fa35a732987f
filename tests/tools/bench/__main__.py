"""`make bench`: every ratio in one run, printed as a table and written to out/bench.json."""

from __future__ import annotations

import importlib
import json
import os
import pkgutil
import sys
from pathlib import Path

import django

import tests.tools.bench

OUT = Path("out/bench.json")


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    django.setup()
    wanted = sys.argv[1:]
    found = []
    for module in sorted(
        m.name for m in pkgutil.iter_modules(tests.tools.bench.__path__) if m.name.startswith("bench_")
    ):
        if wanted and not any(word in module for word in wanted):
            continue
        found += importlib.import_module(f"tests.tools.bench.{module}").ratios()
    OUT.parent.mkdir(exist_ok=True)
    OUT.write_text(json.dumps([ratio.as_dict() for ratio in found], indent=1) + "\n")
    print(f"{'what':<58} {'ours':>10} {'floor':>10} {'ratio':>7} {'at most':>8}")
    for one in found:
        most = "" if one.most is None else f"{one.most:g}"
        late = "" if one.held else "  over"
        print(
            f"{one.name:<58} {one.ours_s * 1e3:>8.2f}ms {one.floor_s * 1e3:>8.2f}ms {one.ratio:>7.2f} {most:>8}{late}"
        )
    print(f"written to {OUT}")
    return 0 if all(one.held for one in found) else 1


if __name__ == "__main__":
    sys.exit(main())
