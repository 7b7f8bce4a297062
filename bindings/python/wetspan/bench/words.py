"""A bench in words: the report, what each lever would do, and the document for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wetspan import _core
from wetspan.bench.inputs import BENCH_INPUTS
from wetspan.cautions import CAUTIONS
from wetspan.json_values import by_name
from wetspan.parameters import TABLE
from wetspan.report import per_cent, what_is_sprayed

if TYPE_CHECKING:
    from wetspan.bench.spray import BenchResult, Evenness
    from wetspan.unit_choice import UnitChoice

LEAST_DEPOSIT = TABLE["application.volume_rate"].low  # what counts as sprayed at all [m]
#: What is done in each lever, by the cause of unevenness that it takes away.
ACTIONS = {
    "speed": "Even speed",
    "height": "A nozzle held at one height",
    "overlap": "Even overlap with the edges covered",
    "volume": "Half as much liquid again with the same active ingredient",
    "drench": "A drench that gives the same mean height, poured into every pot",
    "size": "Plants of one size",
    "pouring": "The same volume measured into every pot",
}
#: Flows that differ by less read as the same. Grade D.
_SAME_FLOW = 0.1


def bench_report(result: BenchResult) -> list[str]:
    """Return a bench in plain lines, with the usual cautions."""
    drenched = result.scenario.shown("application.method") == "drench"
    plants, even, about = result.plants, result.evenness, result.map.attrs
    height = plants["relative_height"].values
    missed = int((plants["status"] == "missed").sum())
    units = result.scenario.units
    extent = " x ".join(units.text(about[f"bench_{side}"], "m") for side in ("length", "width"))
    lines = [
        what_is_sprayed(result.scenario),
        f"Varies from plant to plant (standard deviation over mean): deposit by {in_cent(even.deposit)}, "
        f"dose by {in_cent(even.dose)}, height by {in_cent(even.height)}",
        f"Height is {per_cent(height.mean())} of the untreated check on average, {per_cent(height.min())} to "
        f"{per_cent(height.max())}; {per_cent(even.outside)} of the plants are more than "
        f"{per_cent(about['band'])} off the mean",
        f"Bench of {extent}, {plants.sizes['plant']} plants, sprayed by {about['sprayed_by']}; seed "
        f"{about['seed']}",
        *(_poured(result) if drenched else _emitted(result)),
    ]
    if missed:
        least = units.text(1e3 * LEAST_DEPOSIT, "L/m^2", 2)
        lines.append(f"{missed} plants get less than {least} and count as missed")
    if result.levers:
        lines += ["", "What would make it more even, each computed anew:"]
        lines += [f"  {lever}" for lever in result.levers]
    if result.drench is not None:
        lines.append(f"  The drench: {_in_a_pot(result.drench, units)}")
    return [
        *lines,
        "",
        "Variation of speed, height, spacing, pouring and plant size is assumed (grade D), not measured: lay "
        "cards on your bench and compare. Differences that the plants had before the spray come on top.",
        "",
        CAUTIONS,
    ]


def _emitted(result: BenchResult) -> list[str]:
    """Return what is sprayed in all, and how that agrees with the scenario's nozzle."""
    about, units = result.map.attrs, result.scenario.units
    emitted, off = about["emitted_litres"], about["off_bench_litres"]
    how = "as given: the bench gets" if about["emitted_as"] == "given" else "scaled to give the bench"
    mean = units.text(float(result.map["deposit"].mean()), "L/m^2")
    lines = [
        f"Emitted {units.text(emitted, 'L')}, {how} {mean} on average; {per_cent(off / emitted)} of it falls "
        "beside the bench"
    ]
    needs, gives = about["litres_per_minute"], about["nozzle_litres_per_minute"]
    ratio = needs / gives
    nozzle = f"The scenario's nozzle gives {units.text(gives, 'L/min')}"
    once = f"one pass at this pace takes {units.text(needs, 'L/min')} from each nozzle"
    if abs(ratio - 1.0) <= _SAME_FLOW:
        lines.append(f"{nozzle}; {once}")
    elif ratio > 1.0:
        lines.append(
            f"{nozzle}; {once}, {ratio:.3g} times as much: go over the bench about {max(2, round(ratio))} "
            f"times at this pace, which leaves a more even map than this one, or walk {ratio:.3g} times as "
            "slowly, which leaves this map"
        )
    else:
        lines.append(f"{nozzle}; {once}: walk {1 / ratio:.3g} times as fast")
    return lines


def _poured(result: BenchResult) -> list[str]:
    scenario, plants = result.scenario, result.plants
    litres = float((plants["deposit"] * plants.attrs["ground_area"]).mean())
    strength, error = scenario.show("application.concentration"), plants.attrs["pouring_variation"]
    milligrams = litres * 1e3 * scenario["application.concentration"]
    return [
        f"Poured {scenario.units.text(1e3 * litres, 'mL')} of {strength} into each pot on average, "
        f"{milligrams:.3g} mg, varying by {in_cent(error)} from pot to pot{_known(error)}"
    ]


def _known(error: float) -> str:
    """Return how well the pouring error is known, where it is the one that is assumed."""
    row = BENCH_INPUTS["drench"]["pouring_variation"]
    if error != row.standard:
        return ""
    low, high = (per_cent(each) for each in (row.standard / row.spread, row.standard * row.spread))
    return f" (assumption, grade D: a marked cup filled by hand, {low} to {high}; weigh a few pours)"


def _in_a_pot(drench: _core.DrenchInstead, units: UnitChoice) -> str:
    volume, strength = drench.volume_per_pot, drench.concentration
    return (
        f"{units.text(1e6 * volume, 'mL')} of {units.text(1e3 * strength, 'mg/L')} into each pot, "
        f"{1e6 * volume * strength:.3g} mg"
    )


def bench_document(result: BenchResult) -> dict[str, Any]:
    """Return a bench for programs: units beside the numbers, an infinite wet time as null with its status."""
    plants, about = result.plants, result.map.attrs
    rows = []
    for i in range(plants.sizes["plant"]):
        at = plants.isel(plant=i)
        row: dict[str, Any] = {str(name): by_name(at[name]) for name in ("x", "y", "row", "column")}
        row |= {str(name): by_name(values) for name, values in at.data_vars.items()}
        rows.append(row)
    return {
        "title": result.scenario.title,
        "scenario": result.scenario.to_toml(),
        "seed": about["seed"],
        "sprayed_by": about["sprayed_by"],
        "bench": {"length": about["bench_length"], "width": about["bench_width"]},
        "emitted_litres": about["emitted_litres"],
        "emitted_as": about["emitted_as"],
        "off_bench_litres": about["off_bench_litres"],
        "band": about["band"],
        "evenness": result.evenness._asdict(),
        "levers": [
            {"name": lever.name, "text": lever.text, "evenness": lever.evenness._asdict()}
            for lever in result.levers
        ],
        "units": {
            str(name): str(values.attrs["units"])
            for name, values in plants.variables.items()
            if "units" in values.attrs
        },
        "plants": rows,
        "cautions": CAUTIONS,
    }


def instead(then: Evenness, now: Evenness) -> str:
    said = f"height varies by {in_cent(then.height)} instead of {in_cent(now.height)}"
    if then.height >= 0.98 * now.height:
        said = f"no gain worth having, {said}"
    else:
        outside = (per_cent(even.outside) for even in (then, now))
        said += ", {} of the plants outside the band instead of {}".format(*outside)
        if abs(then.deposit - now.deposit) >= 0.001:
            said += f"; deposit by {in_cent(then.deposit)} instead of {in_cent(now.deposit)}"
    if abs(then.mean_height - now.mean_height) >= 0.01:
        heights = (per_cent(even.mean_height) for even in (then, now))
        said += "; mean height {} of the untreated check instead of {}".format(*heights)
    return said


def in_cent(share: float) -> str:
    """Return a share as per cent with one decimal."""
    return f"{100.0 * share:.1f} %"
