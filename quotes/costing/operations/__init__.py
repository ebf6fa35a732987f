"""The kinds of work. Each file here declares one kind (or a few that belong together) and is found by itself.

`REGISTRY` maps an operation's key to it. To add one, add a file; nothing else is edited.
"""

from __future__ import annotations

import importlib
import pkgutil

from quotes.costing.steps.operation import REGISTRY

for _module in pkgutil.iter_modules(__path__):
    importlib.import_module(f"{__name__}.{_module.name}")

__all__ = ["REGISTRY"]
