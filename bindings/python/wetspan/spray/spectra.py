"""Droplet spectra: two-parameter laws, three quantiles, a measured table, size classes."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.errors import InputError, described, nearest
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.spray.inputs import Amount, Numbers, default, each, increasing, si, variable, whole
from wetspan.units import Quantity, in_si, number, value_in_si

COMPARATIVE = (
    "Size classes are comparative: the standards (ISO 25358, ASABE S572) hold a nozzle against reference "
    "nozzles and set no absolute limits. This one stands for its class (Dv0.5 grade D, span grade C); a "
    "measured spectrum goes before it."
)
_DRIFTS = 150e-6  # m: the diameter below which shares are told
_BINS = 64  # of a spectrum, where nothing else is asked for
_FINE = 256  # bins of numbers that have no closed form
_CLASSES = {each.name: each for each in _core.size_classes()}
_LAWS = {law.name: law for law in (_core.Distribution.lognormal, _core.Distribution.rosin_rammler)}
_UNIT = re.compile(r"\s*(?:\[([^\]]*)\]|\(([^)]*)\)|[,_ ](um|µm|μm|mm|m|percent|%))\s*$")
_HEADINGS = {
    "diameter": re.compile(r"diam|\bsize", re.IGNORECASE),
    "share": re.compile(r"cumul|share|below|undersize", re.IGNORECASE),
}


@dataclass(frozen=True, eq=False, repr=False)
class DropletSpectrum:
    """How the sprayed volume is shared among droplet diameters.

    about, source
        What it is, and where it comes from.
    dv10, dv50, dv90
        Diameters below which 10, 50 and 90 % of the volume lies [m].
    relative_span
        (Dv0.9 - Dv0.1) / Dv0.5 [1].
    d32
        Sauter mean diameter: the droplet with the spray's own volume per surface [m].
    below_150um
        Share of the volume in droplets below 150 um [1].
    bins
        Dataset along `diameter` [um]: `volume_share` [1] of each bin, which sums to 1.
    inputs
        What a scenario should say of it, for `scenario.replace`. A scenario has two parameters: of three
        quantiles or a measured table it keeps Dv0.5 and span, by the law whose D32 is nearer.
    """

    about: str
    source: str
    dv10: float
    dv50: float
    dv90: float
    d32: float
    below_150um: float
    inputs: Mapping[str, object]
    core: _core.Spectrum = field(repr=False)

    @property
    def relative_span(self) -> float:
        return (self.dv90 - self.dv10) / self.dv50

    @property
    def bins(self) -> xr.Dataset:
        return xr.Dataset(
            {"volume_share": ("diameter", self.core.volume_share, variable("1", "share of the volume"))},
            coords={"diameter": ("diameter", self.core.diameter * 1e6, variable("um", "droplet diameter"))},
            attrs={"Conventions": "CF-1.11", "title": self.about, "source": self.source},
        )

    @property
    def text(self) -> str:
        """The spectrum in plain lines."""
        ten, half, ninety, sauter = (f"{1e6 * d:.0f}" for d in (self.dv10, self.dv50, self.dv90, self.d32))
        return "\n".join(
            [
                f"Droplets, {self.about}: Dv0.1 / Dv0.5 / Dv0.9 = {ten} / {half} / {ninety} um",
                f"relative span {self.relative_span:.2f}, D32 = {sauter} um, "
                f"{100 * self.below_150um:.2g} % of the volume below 150 um",
                self.source,
            ]
        )

    def __str__(self) -> str:
        return self.text

    def __repr__(self) -> str:
        return f"DropletSpectrum({self.about}: Dv0.5 {1e6 * self.dv50:.0f} um, span {self.relative_span:.2f})"


def spectrum(
    source: str | os.PathLike[str] | pd.DataFrame | Scenario | None = None,
    *,
    dv10: Amount | None = None,
    dv50: Amount | None = None,
    dv90: Amount | None = None,
    relative_span: Amount | None = None,
    distribution: str | None = None,
    diameter: str | Sequence[Amount] | Quantity | None = None,
    share: str | Sequence[Amount] | Quantity | None = None,
    units: Mapping[str, str] | None = None,
    bins: int = _BINS,
) -> DropletSpectrum:
    """Return a droplet spectrum, given in one of these ways.

    - dv50, relative_span and distribution ("lognormal" or "rosin_rammler"), each with the scenario's default;
    - dv10, dv50 and dv90: a lognormal on either side of the median;
    - a size class by name, such as "medium" (its representative, since classes have no absolute limits), with
      `distribution` if it is not the default one;
    - a measured table, a CSV file (a path, or text that ends in .csv) or a DataFrame: the share of the volume
      below each diameter, from 0 to 1 or 100 %. Headings name the columns and their units, such as "diameter
      [um]" and "cumulative share [%]"; otherwise give them as diameter="D", share="Q3" and their `units`,
      {"D": "um", "Q3": "percent"}. Lines that begin with # are skipped;
    - the same as values: diameter=["50 um", ...], share=[0.0, ...];
    - a scenario, for its own droplets.

    A text has its unit, a bare number is in SI. `bins` is the number of bins of the spectrum.

    >>> ws.spectrum(dv50="280 um", relative_span=1.4).text
    """
    number = whole("bins", bins, 1, 256)
    told: dict[str, object] = {
        "dv10": dv10,
        "dv50": dv50,
        "dv90": dv90,
        "relative_span": relative_span,
        "distribution": distribution,
        "diameter": diameter,
        "share": share,
        "units": units,
    }
    given = {name for name, value in told.items() if value is not None}

    def only(*names: str) -> None:
        for name in told:
            if name in given and name not in names:
                raise InputError(f"{name} does not go with what else is given; see ws.spectrum")

    if isinstance(source, Scenario):
        only()
        return _of_scenario(source, number)
    if isinstance(source, pd.DataFrame | os.PathLike) or (
        isinstance(source, str) and source.lower().endswith(".csv")
    ):
        only("diameter", "share", "units")
        return _measured(*_read(source, diameter, share, units or {}), number)
    if source is not None:
        only("distribution")
        known = _class(source)
        about = f"{COMPARATIVE} Dv0.5: {known.source}."
        return _two_parameter(known.dv50, known.relative_span, _law(distribution), number, f"{source}", about)
    if "diameter" in given or "share" in given:
        only("diameter", "share")
        return _measured(*_values(diameter, share), "a table", number)
    if "dv10" in given or "dv90" in given:
        only("dv10", "dv50", "dv90")
        if len(given) != 3:
            raise InputError("three quantiles are dv10, dv50 and dv90: give all of them")
        ten, half, ninety = (si("droplet.diameter", quantile) for quantile in (dv10, dv50, dv90))
        return _three_quantile(ten, half, ninety, number)
    return _two_parameter(
        default("droplets.dv50", dv50),
        default("droplets.relative_span", relative_span),
        _law(distribution),
        number,
    )


def size_class(name: str) -> dict[str, float]:
    """Return the inputs that describe the droplets of a size class, for `scenario.replace`.

    They are those of the class's representative, since classes compare nozzles and the standards define no
    absolute limits.

    >>> scenario.replace(ws.size_class("medium"))
    """
    known = _class(name)
    return {"droplets.dv50": known.dv50, "droplets.relative_span": known.relative_span}


def size_classes() -> pd.DataFrame:
    """Return the representatives of the droplet size classes, finest first.

    The columns are dv50 and d32 [um], relative_span, below_150um [1] and d32 by the lognormal law, and
    source; the index is size_class. `attrs["comment"]` says how reliable they are.
    """
    rows = {
        name: _two_parameter(each.dv50, each.relative_span, _LAWS["lognormal"], 64)
        for name, each in _CLASSES.items()
    }
    table = pd.DataFrame(
        {
            "dv50": [1e6 * of.dv50 for of in rows.values()],
            "relative_span": [of.relative_span for of in rows.values()],
            "d32": [1e6 * of.d32 for of in rows.values()],
            "below_150um": [of.below_150um for of in rows.values()],
            "source": [each.source for each in _CLASSES.values()],
        },
        index=pd.Index(rows, name="size_class"),
    )
    table.attrs = {"comment": COMPARATIVE, "units": {"dv50": "um", "d32": "um"}}
    return table


def _class(name: object) -> _core.SizeClass:
    if isinstance(name, str) and name.lower() in _CLASSES:
        return _CLASSES[name.lower()]
    hint = nearest(name, _CLASSES) if isinstance(name, str) else ""
    known = f"known are {', '.join(_CLASSES)}"
    raise InputError(
        f"{described(name)} is no droplet size class; {hint or known}; a measured table ends in .csv"
    )


def _law(name: str | None) -> _core.Distribution:
    row = TABLE["droplets.distribution"]
    return _LAWS[row.choices[int(row.standard if name is None else value_in_si(row, name))]]


def _two_parameter(
    dv50: float,
    span: float,
    law: _core.Distribution,
    bins: int,
    about: str = "",
    source: str = "A two-parameter law through Dv0.5 and span.",
) -> DropletSpectrum:
    written = law.name.replace("rosin_rammler", "Rosin-Rammler")
    return DropletSpectrum(
        about=f"{about}, {written}" if about else written,
        source=source,
        dv10=_core.volume_quantile(law, dv50, span, 0.1),
        dv50=dv50,
        dv90=_core.volume_quantile(law, dv50, span, 0.9),
        d32=_core.sauter_mean_diameter(law, dv50, span),
        below_150um=_core.share_below(law, dv50, span, _DRIFTS),
        inputs={
            "droplets.dv50": dv50,
            "droplets.relative_span": span,
            "droplets.distribution": law.name,
        },
        core=_core.spectrum(law, dv50, span, bins),
    )


def _of_scenario(scenario: Scenario, bins: int) -> DropletSpectrum:
    law = _law(str(scenario.shown("droplets.distribution")))
    return _two_parameter(
        scenario["droplets.dv50"], scenario["droplets.relative_span"], law, bins, scenario.title
    )


def for_cards(scenario: Scenario) -> DropletSpectrum:
    """Return a scenario's droplets in the bins of `spectrum`, so that stains are counted well.

    The tails of so many bins may hold drops that break up in flight and that no scenario may have; then the
    bins are those of the scenario.
    """
    try:
        scenario.in_si({"droplets.bins": _BINS})
    except InputError:
        return spectrum(scenario, bins=int(scenario["droplets.bins"]))
    return spectrum(scenario)


def _nearest_inputs(dv10: float, dv50: float, dv90: float, d32: float) -> dict[str, object]:
    span = (dv90 - dv10) / dv50
    rows = TABLE["droplets.dv50"], TABLE["droplets.relative_span"]
    if not all(row.low <= value <= row.high for row, value in zip(rows, (dv50, span), strict=True)):
        return {}  # no two-parameter law that a scenario allows is like it
    nearer = min(_LAWS.values(), key=lambda law: abs(_core.sauter_mean_diameter(law, dv50, span) - d32))
    return {
        "droplets.dv50": dv50,
        "droplets.relative_span": span,
        "droplets.distribution": nearer.name,
    }


def _three_quantile(dv10: float, dv50: float, dv90: float, bins: int) -> DropletSpectrum:
    fine = _core.three_quantile_spectrum(dv10, dv50, dv90, _FINE)
    d32 = _core.sauter_mean_diameter(fine)
    return DropletSpectrum(
        about="three quantiles",
        source="A lognormal on either side of the median.",
        dv10=dv10,
        dv50=dv50,
        dv90=dv90,
        d32=d32,
        below_150um=_core.share_below(fine, _DRIFTS),
        inputs=_nearest_inputs(dv10, dv50, dv90, d32),
        core=_core.three_quantile_spectrum(dv10, dv50, dv90, bins),
    )


def _measured(diameter: Numbers, share: Numbers, name: str, bins: int) -> DropletSpectrum:
    core = _core.measured_spectrum(diameter, share, bins)
    d32 = _core.sauter_mean_diameter(_core.measured_spectrum(diameter, share, _FINE))
    rising = np.concatenate([[True], np.diff(share) > 0.0])  # a flat stretch has no quantile of its own
    dv10, dv50, dv90 = (float(np.interp(part, share[rising], diameter[rising])) for part in (0.1, 0.5, 0.9))
    return DropletSpectrum(
        about=f"measured, {name}",
        source=f"{diameter.size} rows, {1e6 * diameter[0]:.4g} to {1e6 * diameter[-1]:.4g} um; between two "
        "rows the volume is spread evenly over diameter.",
        dv10=dv10,
        dv50=dv50,
        dv90=dv90,
        d32=d32,
        below_150um=float(np.interp(_DRIFTS, diameter, share)),
        inputs=_nearest_inputs(dv10, dv50, dv90, d32),
        core=core,
    )


# Measured tables ------------------------------------------------------------------------------------------


def _read(
    source: str | os.PathLike[str] | pd.DataFrame, diameter: object, share: object, units: Mapping[str, str]
) -> tuple[Numbers, Numbers, str]:
    """Return diameters [m] and shares [1] of a table, and its name."""
    table, name = (source, "a table") if isinstance(source, pd.DataFrame) else _file(source)
    headings = [str(heading) for heading in table.columns]
    for heading in units:
        if heading not in headings:
            raise InputError(f"{name}: units name a column '{heading}', which it does not have; {headings}")
    columns = {}
    for role, wanted, si_unit in (("diameter", diameter, "m"), ("share", share, "1")):
        heading = _heading(name, headings, role, wanted)
        columns[role] = _column(name, table.iloc[:, headings.index(heading)], heading, si_unit, units)
    return columns["diameter"], columns["share"], name


def _file(path: str | os.PathLike[str]) -> tuple[pd.DataFrame, str]:
    name = os.fspath(path)
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(f"{name}: there is no such file") from None
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{name}: cannot be read as text ({error})") from None
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise InputError(f"{name}: the file has no table")
    separator = max(",;\t", key=lines[0].count)
    rows = [[cell.strip().strip('"') for cell in line.split(separator)] for line in lines]
    for row in rows:
        if len(row) != len(rows[0]):
            raise InputError(f"{name}: {separator.join(row)!r} has {len(row)} cells, not {len(rows[0])}")
    return pd.DataFrame(rows[1:], columns=rows[0]), Path(path).name


def _heading(name: str, headings: list[str], role: str, wanted: object) -> str:
    if wanted is not None:
        if wanted in headings:
            return str(wanted)
        raise InputError(f"{name}: there is no column {wanted!r}; columns are {headings}")
    found = [heading for heading in headings if _HEADINGS[role].search(heading)]
    if len(found) == 1:
        return found[0]
    what = "no heading speaks" if not found else f"{', '.join(map(repr, found))} all speak"
    raise InputError(f"{name}: {what} of {role}; name it, as in {role}='...'; columns are {headings}")


def _column(
    name: str, cells: pd.Series[Any], heading: str, si_unit: str, units: Mapping[str, str]
) -> Numbers:
    match = _UNIT.search(heading)
    unit = units.get(heading) or ("" if match is None else next(filter(None, match.groups()), ""))
    if not unit and si_unit == "m":
        raise InputError(f"{name}: the heading '{heading}' has no unit; write '{heading} [um]' or give units")
    values = np.array([number(f"{name}: '{heading}'", cell) for cell in cells])
    if unit in ("", "1", "-"):
        if values.size and values[-1] > 1.5:
            raise InputError(
                f"{name}: '{heading}' ends at {values[-1]:g}; if it is in per cent, write '{heading} [%]'"
            )
        return values
    try:
        return in_si(values, unit, si_unit, f"the unit of '{heading}'")
    except InputError:
        raise InputError(f"{name}: the unit '{unit}' of '{heading}' is not one of {_kind(si_unit)}") from None


def _kind(si_unit: str) -> str:
    return "length, such as um" if si_unit == "m" else "a share, such as % or 1"


def _values(diameter: object, share: object) -> tuple[Numbers, Numbers]:
    if diameter is None or share is None or isinstance(diameter, str) or isinstance(share, str):
        raise InputError("a table as values is diameter=[...] and share=[...], of equal length")
    return increasing("droplet.diameter", diameter), each("droplet.share", share)
