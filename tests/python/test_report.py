"""What people read agrees with the numbers, and what programs read is plain JSON."""

import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest
import wetspan as ws
import xarray as xr
from rich.console import Console
from wetspan import report
from wetspan.sensitivity import control_range


def printed(thing: object, width: int = 118) -> str:
    console = Console(width=width, file=io.StringIO(), record=True)
    console.print(thing)
    return console.export_text()


def of(day: xr.Dataset, name: str, at: str) -> float:
    return float(day[name].sel(time=f"2026-05-16T{at}"))


def test_advice_gives_the_numbers_of_the_day(day):
    text = report.advice(day)
    wet = re.match(
        r"Leaves stay wet for (\d+) min when sprayed at (\d\d:\d\d), for ([\d.]+) min at (\d\d:\d\d): "
        r"(\d+) times as long\. ",
        text,
    )
    assert wet
    longest, shortest = of(day, "wet_time", wet[2]), of(day, "wet_time", wet[4])
    assert longest == day["wet_time"].max()
    assert shortest == day["wet_time"].min()
    assert float(wet[1]) == pytest.approx(longest / 60, abs=0.5)
    assert float(wet[3]) == pytest.approx(shortest / 60, abs=0.05)
    assert float(wet[5]) == pytest.approx(longest / shortest, abs=0.5)
    assert wet[2] < "08:00"
    assert "12:00" <= wet[4] < "18:00"

    control = re.search(
        r"highest at (\d\d:\d\d), (\d+) % \(range (\d+) to (\d+) %\), and lowest at (\d\d:\d\d), (\d+) % "
        r"\(range \d+ to \d+ %\), which is (0\.\d\d) of the highest \(range (0\.\d\d) to ([01]\.\d\d)\)\.",
        text,
    )
    assert control
    best, worst = of(day, "growth_control", control[1]), of(day, "growth_control", control[5])
    assert best == day["growth_control"].max()
    assert worst == day["growth_control"].min()
    assert float(control[2]) == pytest.approx(100 * best, abs=0.5)
    assert float(control[3]) == pytest.approx(100 * of(day, "growth_control_low", control[1]), abs=0.5)
    assert float(control[4]) == pytest.approx(100 * of(day, "growth_control_high", control[1]), abs=0.5)
    assert float(control[6]) == pytest.approx(100 * worst, abs=0.5)
    assert float(control[7]) == pytest.approx(worst / best, abs=0.005)
    assert float(control[8]) == pytest.approx(of(day, "control_over_best_low", control[5]), abs=0.005)

    tips = day["tips"].sel(time=f"2026-05-16T{control[1]}")
    roots = re.search(
        r"At (\d\d:\d\d), (\d+) % of what reaches the growing tips comes through the roots", text
    )
    assert roots
    assert roots[1] == control[1]
    assert float(roots[2]) == pytest.approx(100 * float(tips.sel(site="root") / tips.sum()), abs=0.5)
    assert f"{day.attrs['samples']} draws" in text
    assert "grade D" in text


@pytest.fixture(scope="module")
def noon(example, piedmont):
    """Days of the example, changed, with two spray times or one."""

    def days(changes=None, end="13:00"):
        scenario = example.replace(changes or {})
        return ws.compare_times(scenario, piedmont, "2026-05-16T12:00", f"2026-05-16T{end}", "1h")

    return days


def test_advice_on_other_days(noon, example, piedmont):
    drench = report.advice(noon({"application.method": "drench"}))
    assert drench.startswith("A drench wets no leaves: the time of day does not matter here. Expected")
    alone = report.advice(noon(end="12:00"))
    assert re.fullmatch(
        r"Sprayed at 12:00, leaves stay wet for [\d.]+ min\. Expected growth control \d+ %\.", alone
    )
    never = report.advice(noon({"numerics.longest": "60 s"}))
    assert never.startswith(
        "The record, or numerics.longest, is too short for 12:00 to 13:00: leaves and stems"
    )
    assert re.search(r"growth control \(\d+(?: to \d+)? % or more\) are lower bounds there\.$", never)
    water = report.advice(noon({"application.concentration": 0.0}))
    assert "Expected growth control is 0 % at any of these times." in water
    assert "nan" not in water
    assert "roots" not in water
    days = ws.compare_times(example, piedmont, "2026-05-16T12:00", "2026-05-17T04:00", "16h")
    assert re.match(
        r"Leaves stay wet for .* when sprayed at 2026-05-17 04:00, .* at 2026-05-16 12:00",
        report.advice(days),
    )


@pytest.fixture(scope="module")
def evening(example, piedmont) -> xr.Dataset:
    """Spray times up to the end of a record that ends at 01:00, with ranges from few draws."""
    short = replace(piedmont, data=piedmont.data["2001-05-15":"2001-05-17T06:00"], typical=False)
    return ws.compare_times(example, short, "2001-05-16T20:00", "2001-05-16T23:30", "30min", samples=8)


EVENING = ["20:00", "20:30", "21:00", "21:30", "22:00", "22:30", "23:00", "23:30"]


def test_times_whose_record_ends_wet_are_not_ranked(evening):
    dry = int((evening["status"] == "dry").sum())
    assert evening["status"].values.tolist() == ["dry"] * dry + ["wet at end"] * (8 - dry)
    assert 3 <= dry <= 6
    known, ended = evening.isel(time=slice(0, dry)), evening.isel(time=slice(dry, 8))
    text = report.advice(evening)
    told = re.match(
        rf"The record, or numerics\.longest, is too short for {EVENING[dry]} to 23:30: leaves and stems are "
        r"still wet at its end\. Uptake and growth control \((\d+)(?: to (\d+))? % or more\) are lower "
        r"bounds there, and the comparison leaves them out\. (.*)$",
        text,
    )
    assert told
    assert told[3].replace("the other times", "these times") == report.advice(known)
    control = 100 * ended["growth_control"]
    assert float(told[1]) == pytest.approx(float(control.min()), abs=0.5)
    assert float(told[2] or told[1]) == pytest.approx(float(control.max()), abs=0.5)
    lines = printed(report.day_table(evening)).splitlines()
    assert [">=" in line for line in lines if re.match(r"\d\d:\d\d ", line)] == [False] * dry + [True] * (
        8 - dry
    )
    best = int(known["growth_control"].argmax("time"))
    assert float(evening["control_over_best"][best]) == 1.0
    assert float(evening["control_over_best_high"][best]) == 1.0


def test_advice_where_one_time_dries_or_none(evening):
    dry = int((evening["status"] == "dry").sum())
    one = report.advice(evening.isel(time=slice(dry - 1, 8)))
    assert f"Sprayed at {EVENING[dry - 1]}, leaves stay wet for " in one
    assert "highest" not in one
    apart = evening.isel(time=[3, 4, 5, 7, 2]).assign_coords(time=evening["time"][:5])
    apart["status"].values[:] = ["dry", "wet at end", "wet at end", "dry", "wet at end"]
    assert "too short for 20:30 to 21:00, 22:00: stems" in report.advice(apart)
    last = report.advice(evening.isel(time=[7]))
    assert last.startswith("The record, or numerics.longest, is too short for 23:30: leaves and stems")
    assert "Expected" not in last


def test_advice_where_all_times_are_alike(day):
    same = day.isel(time=slice(0, 3)).copy(deep=True)
    same["wet_time"][:] = [600.0, 620.0, 610.0]
    assert report.advice(same).startswith("Leaves stay wet for 10 min at any of these times.")


def test_the_table_holds_the_day(day):
    lines = printed(report.day_table(day), width=80).splitlines()
    rows = [line.split() for line in lines if re.match(r"\d\d:\d\d ", line)]
    assert len(rows) == day.sizes["time"]
    for i, row in enumerate(rows):
        at = day.isel(time=i)
        assert float(row[1]) == pytest.approx(float(at["air_temperature"]) - 273.15, abs=0.05)
        assert float(row[2]) == pytest.approx(100 * float(at["relative_humidity"]), abs=0.5)
        assert float(row[4].rstrip("*")) == pytest.approx(float(at["wet_time"]) / 60, rel=0.05)
        assert row[4].endswith("*") == bool(at["wet_past_sunset"])
        assert float(row[6]) == pytest.approx(1e3 * float(at["uptake"].sel(site="leaf")), rel=0.05)
        assert float(row[9]) == pytest.approx(100 * float(at["growth_control"]), abs=0.5)
    assert "…" not in "".join(lines)  # nothing is cut off on a narrow screen
    assert max(map(len, lines)) <= 80


def test_the_table_says_not_dry(noon):
    assert "not dry" in printed(report.day_table(noon({"numerics.longest": "60 s"})))


def strict(document: object) -> object:
    """Through JSON and back, with nothing that JSON does not know."""
    return json.loads(json.dumps(document, allow_nan=False))


def test_a_day_for_programs(day, noon):
    document = strict(report.day_document(day))
    assert document["times"][0]["time"] == "2026-05-16T06:00:00"
    assert document["times"][3]["wet_time"] == float(day["wet_time"][3])
    assert sum(document["times"][3]["split"].values()) == pytest.approx(1.0, abs=1e-12)
    assert set(document["units"]) == set(document["times"][0]) - {
        "time",
        "status",
        "bridged",
        "wet_past_sunset",
        "wet_too_long",
    }
    assert (document["time_zone"], document["samples"], document["seed"]) == ("UTC-05:00", 8, 1)
    assert document["advice"] == report.advice(day)
    assert document["cautions"] == ws.CAUTIONS
    wet = strict(report.day_document(noon({"numerics.longest": "60 s"})))
    assert [(row["wet_time"], row["status"]) for row in wet["times"]] == [(None, "wet at end")] * 2


@pytest.mark.parametrize("changes", [{}, {"application.method": "drench"}, {"numerics.longest": "60 s"}])
def test_one_spray_for_programs_and_people(example, changes):
    outcome = ws.simulate(example.replace(changes))
    document = strict(report.outcome_document(outcome))
    assert document["status"] == outcome.status
    assert document["wet_time"] == (outcome.wet_time if np.isfinite(outcome.wet_time) else None)
    assert sum(document["split"].values()) == pytest.approx(1.0, abs=1e-12)
    assert sum(document["account"].values()) == pytest.approx(1.0, abs=1e-12)
    assert document["growth_control"] == outcome.growth_control
    assert document["wetspan_version"] == ws.__version__
    assert document["air_temperature"] == example["air.temperature"]
    assert document["relative_humidity"] == pytest.approx(example["air.relative_humidity"], rel=1e-12)
    assert set(document["units"]) < set(document)
    text = printed(report.outcome_table(outcome))
    assert f"{100 * outcome.growth_control:.0f} % shorter" in text
    assert re.search(r"^air at the crop +24\.0 degC, 60 % humidity, light 150 W/m2 *$", text, re.MULTILINE)
    assert "nan" not in text
    assert "inf" not in text


@pytest.mark.parametrize(
    ("volume", "told"),
    [
        ("3 qt / (1000 ft^2)", "of 0.3 qt/100 ft2 (0.15 times the usual 2 qt/100 ft2) at"),
        ("8 qt / (100 ft^2)", "of 8 qt/100 ft2 (4 times the usual 2 qt/100 ft2) at"),
        ("3 qt / (100 ft^2)", "of 3 qt/100 ft2 at"),
    ],
)
def test_a_volume_far_from_the_usual_is_told(example, volume, told):
    scenario = example.in_units("us").replace({"application.volume_rate": volume})
    assert told in report.what_is_sprayed(scenario)
    drench = scenario.replace({"application.method": "drench"})
    assert "usual" not in report.what_is_sprayed(drench)


def test_what_stays_wet_is_a_lower_bound(example, piedmont):
    damp = {"air.relative_humidity": "100 %", "air.shortwave": "0 W/m^2"}
    text = printed(report.outcome_table(ws.simulate(example.replace(damp))))
    assert re.search(r"^wet +leaves not dry within 48 h, stems not dry within 48 h *$", text, re.MULTILINE)
    assert re.search(r"^growth control +at least \d+ % shorter", text, re.MULTILINE)
    bounds = "uptake and growth control are lower bounds"
    assert f"leaves and stems; followed no longer than numerics.longest: {bounds}" in " ".join(text.split())
    assert "record" not in text
    midnight = replace(piedmont, data=piedmont.data["2001-05-15":"2001-05-17T05:00"], typical=False)
    late = ws.simulate(example, midnight, "2001-05-16T23:00")
    assert late.longest == 3600.0
    text = printed(report.outcome_table(late))
    assert "leaves not dry within 60 min" in text
    assert f"the record is too short: {bounds}" in " ".join(text.split())
    assert "still wet" not in printed(report.outcome_table(ws.simulate(example)))


def test_a_spray_that_lands_beside_the_pots_is_explained(example):
    apart = example.replace({"canopy.plant_density": "1 per ft^2"})
    share = float(ws.simulate(apart).split["share"].sel(target="bench"))
    text = " ".join(printed(report.outcome_table(ws.simulate(apart))).split())
    assert f"{100 * share:.0f} % lands on the bench: pots cover" in text
    assert "lands on the bench: pots" not in printed(report.outcome_table(ws.simulate(example)))
    for plants, least, most in ((2.5, 0.4, 0.5), (3.0, 0.3, 0.4)):  # around the share from which it is told
        near = ws.simulate(example.replace({"canopy.plant_density": f"{plants} per ft^2"}))
        assert least < float(near.split["share"].sel(target="bench")) < most
        told = "lands on the bench: pots" in " ".join(printed(report.outcome_table(near)).split())
        assert told == (plants == 2.5)


def test_one_line_on_what_is_sprayed(example):
    line = report.what_is_sprayed(example)
    assert line == f"{example.title}: spray of 2 qt/100 ft2 at 30 mg/L, droplets of 300 um"
    drench = report.what_is_sprayed(ws.Scenario(application={"method": "drench", "volume_rate": "3 mm"}))
    assert drench == "Drench of 69.7 mL a pot (3 L/m^2) at 30 mg/L, 2.09 mg a pot"


def test_one_line_on_where_it_lands(day):
    line = report.where_it_lands(day["split"])
    leaf = 100 * day["split"].sel(target="leaf")
    told = re.search(r"leaf (\d+)(?: to (\d+))? %", line)
    assert told
    assert float(told[1]) == pytest.approx(float(leaf.min()), abs=0.5)
    assert float(told[2] or told[1]) == pytest.approx(float(leaf.max()), abs=0.5)
    one = xr.DataArray(
        [0.4996, 0.4994, 0.001], coords={"target": ["leaf", "bench", "airborne"]}, dims="target"
    )
    assert report.where_it_lands(one) == "Where it ends up: leaf 50 %, bench 50 %"


def test_the_usual_cautions():
    for words in ("label", "regulations", "protective equipment", "re-entry", "few plants", "estimate"):
        assert words in ws.CAUTIONS


def test_ranges_whose_draws_stay_wet_are_lower_bounds(example):
    evening = example.replace({"numerics.longest": "10 min"})
    control = control_range(evening, samples=8)
    assert control.not_dry > 0
    text = printed(report.outcome_table(ws.simulate(evening), control))
    assert f"{control.not_dry} of them stay wet, and the range is a lower bound" in " ".join(text.split())
    assert report.outcome_document(ws.simulate(evening), control)["not_dry"] == control.not_dry
    dry = control_range(example.replace({"air.relative_humidity": "40 %"}), samples=8)
    assert dry.not_dry == 0
    assert "lower bound" not in printed(report.outcome_table(ws.simulate(example), dry))


def test_a_table_says_which_part_is_still_wet(example):
    air = example.replace({"air.relative_humidity": "92 %"})
    through = ws.simulate(air)
    between = 0.5 * (through.last_drop_time + through.stem_wet_time)
    late = printed(report.outcome_table(ws.simulate(air.replace({"numerics.longest": between}))))
    assert "stems; followed no longer than numerics.longest" in " ".join(late.split())
