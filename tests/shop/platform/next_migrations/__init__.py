"""The shop's migrations with one that a next version might bring."""

from pathlib import Path

from shop import migrations

__path__ += migrations.__path__
LAST = max(path.stem for path in Path(migrations.__path__[0]).glob("0*.py"))
