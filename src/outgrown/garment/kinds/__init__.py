"""Kinds of garment, one small file each; `KINDS` finds them by name."""

import pkgutil
from importlib import import_module

from ..kind import Kind

KINDS: dict[str, Kind] = {
    kind.name: kind
    for module in sorted(m.name for m in pkgutil.iter_modules(__path__))
    for kind in [import_module(f"{__name__}.{module}").KIND]
}
"""All kinds by name."""
