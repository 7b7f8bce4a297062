"""The registry of units: pint's application registry, which quantities of the user share.

The command is a process of its own, and nobody else's quantities meet there. It begins with the short list of
units.txt, because pint takes a fifth of a second to read its whole list.
"""

from __future__ import annotations

import sys
from functools import cache
from importlib.resources import as_file, files
from typing import Any

_OWN_PROCESS = False


def in_own_process() -> None:
    """Begin with the short list; to be called before the registry is used.

    No command computes with Dask. pint and xarray load it wherever it is installed, which takes longer than
    the rest of a short command; they do not if it counts as absent.
    """
    global _OWN_PROCESS
    _OWN_PROCESS = True
    sys.modules.setdefault("dask", None)  # type: ignore[arg-type]


@cache
def registry() -> Any:
    """Return pint's application registry: one for all."""
    import pint

    if _OWN_PROCESS:
        pint.set_application_registry(short_registry())
    return pint.get_application_registry()


def short_registry() -> Any:
    """Return a registry of the units of units.txt, which reads pint's list where a name is not among them."""
    import pint

    class ShortRegistry(pint.UnitRegistry):  # type: ignore[type-arg]  # not generic before pint 0.25
        whole = False

        def parse_unit_name(self, *name: Any, **how: Any) -> Any:
            found = super().parse_unit_name(*name, **how)
            if not found and not self.whole:
                self.whole = True
                with as_file(files("pint") / "default_en.txt") as path:
                    self.load_definitions(path)
                found = super().parse_unit_name(*name, **how)
            return found

    with as_file(files("wetspan") / "units.txt") as path:
        return ShortRegistry(path, on_redefinition="ignore")
