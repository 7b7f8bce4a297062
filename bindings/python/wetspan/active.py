"""Active ingredients: published parameter sets, one file each, with their limits stated."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files

from wetspan.errors import InputError, nearest
from wetspan.parameters import row_of
from wetspan.scenario import Scenario

_FOLDER = files("wetspan") / "actives"


@dataclass(frozen=True)
class ActiveIngredient:
    """What is published on one substance.

    `values` are inputs of a scenario by key, as text with units; `sources` tells where each comes from, with
    its evidence grade; `missing` lists the inputs for which there is no published value here; `limits` says
    how far the set carries.
    """

    name: str
    about: str
    limits: str
    values: Mapping[str, object]
    sources: Mapping[str, str]
    missing: tuple[str, ...]

    def into(self, scenario: Scenario, values: Mapping[str, object] | None = None) -> Scenario:
        """Return the scenario with this substance in the tank.

        Every missing input has to be given in `values`: none is invented.
        """
        given = dict(values or {})
        for key in given:
            row_of(key)
        lacking = [key for key in self.missing if key not in given]
        if lacking:
            raise InputError(
                f"no published value is known here for {', '.join(lacking)} of {self.name}; "
                "give it, with your source"
            )
        return scenario.replace(dict(self.values) | given)


def actives() -> list[str]:
    """Return the names of the active ingredients on file."""
    return sorted(
        entry.name.removesuffix(".toml") for entry in _FOLDER.iterdir() if entry.name.endswith(".toml")
    )


def active(name: str) -> ActiveIngredient:
    """Return what is published on an active ingredient."""
    known = actives()
    if name not in known:
        hint = nearest(name, known) or f"on file are {', '.join(known)}"
        raise InputError(f"no active ingredient '{name}' on file; {hint}")
    document = tomllib.loads((_FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    return ActiveIngredient(
        name=document["name"],
        about=document["about"],
        limits=document["limits"],
        values={f"active.{key}": value for key, value in document["active"].items()},
        sources={f"active.{key}": source for key, source in document["source"].items()},
        missing=tuple(f"{section}.{key}" for section, keys in document["missing"].items() for key in keys),
    )
