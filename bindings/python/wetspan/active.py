"""Published parameter sets, one file each, with their limits stated: active ingredients and substrates."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files

from wetspan.errors import InputError, described, nearest
from wetspan.parameters import SECTIONS, row_of
from wetspan.scenario import Scenario


@dataclass(frozen=True)
class PublishedSet:
    """Published values for one active ingredient or substrate.

    `values` are inputs of a scenario by key, as text with units. `sources` names the source of each, with its
    evidence grade. `missing` lists the inputs for which there is no published value here. `limits` says how
    far the set is valid. `into(scenario)` returns a scenario with the values. A set without missing inputs
    can also be passed where changes of a scenario are expected: `scenario.replace(ws.substrate("peat"))`.
    """

    name: str
    about: str
    limits: str
    values: Mapping[str, object]
    sources: Mapping[str, str]
    missing: tuple[str, ...]

    def into(self, scenario: Scenario, values: Mapping[str, object] | None = None) -> Scenario:
        """Return the scenario with this set in it.

        Every missing input has to be given in `values`: none is invented.
        """
        given = dict(values or {})
        for key in given:
            row_of(key)
        lacking = [key for key in self.missing if key not in given]
        if lacking:
            raise InputError(f"{self._unknown(lacking)}; give it, with your source")
        return scenario.replace(dict(self.values) | given)

    def keys(self) -> Iterator[str]:
        """Return the keys of the set's values; with `[]` they make a `dict` of it, unless values are missing.

        A set with missing values is refused: those of another substance would stay behind.
        """
        if self.missing:
            raise InputError(
                f"{self._unknown(self.missing)}; give them, with your source: "
                f"set.into(scenario, {{'{self.missing[0]}': ...}})"
            )
        return iter(self.values)

    def __getitem__(self, key: str) -> object:
        return self.values[key]

    def _unknown(self, keys: Sequence[str]) -> str:
        return f"no published value is known here for {', '.join(keys)} of {self.name}"


def actives() -> list[str]:
    """Return the names of the active ingredients on file."""
    return _names("actives")


def active(name: str) -> PublishedSet:
    """Return what is published on an active ingredient: a `PublishedSet` of values and their sources.

    `.into(scenario)` returns the scenario with these values. Only the set of paclobutrazol is complete. The
    others have a name and limits, and list in `.missing` the inputs that you have to give, such as
    solubility, log_kow and the crop's half amount: `.into(scenario, {"active.solubility": given, ...})`.
    `actives()` lists the names.

    >>> ws.active("paclobutrazol").into(scenario)
    """
    return _published("actives", "active ingredient", name)


def substrates() -> list[str]:
    """Return the names of the substrates on file."""
    return _names("substrates")


def substrate(name: str) -> PublishedSet:
    """Return what is published on a substrate, its density, water and sorption: a `PublishedSet`.

    `.into(scenario)` returns the scenario with these values. The sets of peat, peat_wood_chips, pine_bark and
    mineral_soil are complete. Those of perlite and rock_wool lack "substrate.sorption_factor", their sorption
    relative to that of peat, which you have to give: `.into(scenario, {"substrate.sorption_factor": given})`.
    `substrates()` lists the names.

    >>> ws.substrate("mineral_soil").into(scenario)
    """
    return _published("substrates", "substrate", name)


def _names(folder: str) -> list[str]:
    entries = (files("wetspan") / folder).iterdir()
    return sorted(entry.name.removesuffix(".toml") for entry in entries if entry.name.endswith(".toml"))


def _published(folder: str, kind: str, name: str) -> PublishedSet:
    known = _names(folder)
    if not isinstance(name, str):
        raise InputError(f"the name of the {kind} is wanted, such as '{known[0]}'; given {described(name)}")
    if name not in known:
        hint = nearest(name, known) or f"on file are {', '.join(known)}"
        raise InputError(f"no {kind} '{name}' on file; {hint}")
    text = (files("wetspan") / folder / f"{name}.toml").read_text(encoding="utf-8")
    document = tomllib.loads(text)
    values = {
        f"{section}.{key}": value for section in SECTIONS for key, value in document.get(section, {}).items()
    }
    return PublishedSet(
        name=document["name"],
        about=document["about"],
        limits=document["limits"],
        values=values,
        sources={
            f"{section}.{key}": source
            for section, told in document["source"].items()
            for key, source in told.items()
        },
        missing=tuple(f"{section}.{key}" for section, keys in document["missing"].items() for key in keys),
    )
