"""The contents of a page for each kind of result; its numbers are those of the commands' tables and
sentences.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

from wetspan import plots
from wetspan.bench import BenchResult
from wetspan.bench.words import bench_report, in_cent
from wetspan.cautions import CAUTIONS
from wetspan.day import whole_day
from wetspan.errors import InputError
from wetspan.outcome import Outcome
from wetspan.printed.parts import (
    Contents,
    Table,
    drawn_of,
    facts_of,
    plain_table,
    scenario_of,
    split_words,
    standing,
)
from wetspan.printed.record import lines_of
from wetspan.report import (
    advised,
    air_when_sprayed,
    clocks,
    day_table,
    outcome_table,
    per_cent,
    per_cent_range,
    season_advised,
    season_table,
    what_it_comes_to,
    where_it_lands,
)
from wetspan.report.trial import trial_table
from wetspan.residue import about_wet_time, owed_to_wet_time
from wetspan.rewetting import rewets
from wetspan.rewetting_gain import rewetting_gain
from wetspan.season import best_windows, share_below
from wetspan.season.windows import whole
from wetspan.sensitivity import ControlRange
from wetspan.trials.dose_response import plain_number
from wetspan.trials.read import TrialResult
from wetspan.trials.statistics import TrialStatistics
from wetspan.trials.wording import described, p_value

#: What holds for every number of the model. The README says the same.
_LIMITS = (
    "The model is not validated on a whole crop: its parts are held against published values, and the "
    "crop's sensitivity is calibrated to a few facts of the trade. Compare times, volumes and houses with "
    "it; do not take a rate from it.",
    "It does not know your product, your cultivar or your water.",
)


def contents_of(
    result: object, *, when: str, spread: ControlRange | None, below: object, control: float
) -> Contents:
    """Return what the page of a result holds."""
    if isinstance(result, Outcome):
        return _of_outcome(result, when, spread)
    if isinstance(result, BenchResult):
        return _of_bench(result, when)
    if isinstance(result, TrialResult):
        return _of_trial(result, when, control)
    if isinstance(result, xr.Dataset) and "control_over_best" in result and "time" in result.dims:
        whole_day("write_report is for the Dataset of ws.compare_times", result)
        return _of_day(result, when)
    if isinstance(result, xr.Dataset) and {"site", "day", "clock"} <= set(result.coords):
        return _of_season(whole("write_report", result, "day", "clock"), when, below)
    raise InputError(
        "write_report is for what ws.simulate, ws.compare_times, ws.season, ws.spray_bench and ws.read_trial "
        f"return; this is {type(result).__name__}"
    )


def _of_outcome(outcome: Outcome, when: str, spread: ControlRange | None) -> Contents:
    scenario = outcome.scenario
    drench = outcome.status == "nothing wet"
    control = per_cent(outcome.growth_control)
    answer = what_it_comes_to(outcome, spread)
    wet = answer.partition(";")[0]
    unsure = []
    if spread is not None:
        unsure.append(
            f"The number before the range is nominal, computed with the inputs as given. The range, "
            f"{per_cent_range(spread.low, spread.high)}, holds 80 % of {spread.samples} draws of the unknown "
            "inputs, most of them assumptions (grade D)."
        )
    owed = owed_to_wet_time(outcome)
    if not drench and np.isfinite(owed).all():
        told = about_wet_time(owed).rstrip(".")
        unsure.append(f"{told[0].upper()}{told[1:]}.")
    if rewets(scenario):
        unsure.append(str(rewetting_gain(outcome)))
    air = air_when_sprayed(outcome)
    seen = f"Minutes since the spray; {wet[0].lower()}{wet[1:]}."
    if drench:
        drawn = drawn_of(
            lambda ax: plots.plot_outcome(outcome, ax),
            [(2.0, split_words(outcome.split["share"]), "Where the liquid ends up."),
             (3.0, f"Heights over the weeks: in the end {control} shorter than untreated.",
              "Height of treated and untreated plants.")],
        )  # fmt: skip
    else:
        drawn = drawn_of(
            lambda ax: plots.plot_split(outcome, ax),
            [(2.3, split_words(outcome.split["share"]), "Where the liquid ends up.")],
        ) + drawn_of(
            lambda ax: plots.plot_outcome(outcome, ax),
            [(2.9, f"Shares of liquid left on leaves and stems. {seen}", "The liquid left on the plant."),
             (2.9, f"Temperatures of leaf and air, and the air's humidity. {seen}",
              "Leaf and air while the plant dries, with what the spray takes from the air and gives to it.")],
        )  # fmt: skip
    return Contents(
        kind="One application",
        title=scenario.title or "One application",
        facts=facts_of(scenario, when),
        answer=answer,
        sentences=[f"{where_it_lands(outcome.split['share'])}."],
        pictures=drawn,
        tables=[_numbers_of(outcome, spread)],
        unsure=[*unsure, *_LIMITS],
        record=lines_of(scenario, when.partition(";")[0], air),
        **standing(scenario, air),
    )


def _numbers_of(outcome: Outcome, spread: ControlRange | None) -> Table:
    table = plain_table(outcome_table(outcome, spread), "This application", ["what", "computed"])
    if spread is not None:
        return table
    return replace(table, rows=[row for row in table.rows if row[0] != "its range"])


def _of_day(day: xr.Dataset, when: str) -> Contents:
    scenario = scenario_of(day)
    (answer, *sentences), unsure = advised(day)
    best = day.isel(time=int(day["growth_control"].argmax("time")))
    first, last = clocks(day)[0], clocks(day)[-1]
    date = str(day["time"].values[0].astype("datetime64[D]"))
    drench = bool((day["status"].values == "nothing wet").all())
    above = (
        (split_words(day["split"].mean("time")), "Where the liquid ends up.")
        if drench
        else (
            f"Minutes that leaves and stems stay wet at each time of spraying. {answer}",
            "How long leaves and stems stay wet; the scale rises by factors, so that short times can be read "
            "too. The numbers are the minutes of the leaves. Dotted: light at the crop.",
        )
    )
    below = (
        f"Growth control at each time of spraying, by the way the substance came. {' '.join(sentences)}",
        "How much shorter than untreated plants, and through which part of the plant the substance came.",
    )
    air = {name: float(best[name]) for name in ("air_temperature", "relative_humidity", "shortwave")}
    return Contents(
        kind="Times of spraying compared",
        title=scenario.title or "Times of spraying compared",
        facts=facts_of(
            scenario, when or f"{date}, {first} to {last}, clock {day['time'].attrs['time_zone']}"
        ),
        answer=answer,
        sentences=[*sentences, f"{where_it_lands(day['split'])}."],
        pictures=drawn_of(lambda ax: plots.plot_day(day, ax), [(3.0, *above), (3.0, *below)]),
        tables=[plain_table(day_table(day), "Each time of spraying")],
        unsure=[*unsure, *_LIMITS],
        record=lines_of(scenario, date, None),
        **standing(scenario, air, weather=str(day.attrs["weather"])),
    )


def _of_season(found: xr.Dataset, when: str, below: object) -> Contents:
    scenario = scenario_of(found)
    shares, windows = share_below(found, below), best_windows(found)
    (answer, *sentences), unsure = season_advised(found, shares, windows)
    one = found.isel(site=[0])
    days = [str(day) for day in one["day"].values[[0, -1]].astype("datetime64[D]")]
    air = {name: float(one[name].median()) for name in ("air_temperature", "relative_humidity", "shortwave")}
    span = f"{days[0]} to {days[1]}, {one.sizes['day']} days"
    pictures = [
        *drawn_of(
            lambda ax: plots.plot_season(one, "wet_time", ax),
            [(3.4, f"Minutes that leaves stay wet, by day and clock time, {span}. {answer}",
              "How long leaves stay wet, by the day and the time of spraying.")],
        ),
        *drawn_of(
            lambda ax: plots.plot_season(one, "growth_control", ax),
            [(3.4, f"Growth control by day and clock time, {span}. {' '.join(sentences)}",
              "How much shorter than untreated plants, by the day and the time of spraying.")],
        ),
    ]  # fmt: skip
    return Contents(
        kind="A season of spray times",
        title=scenario.title or "A season of spray times",
        facts=facts_of(scenario, when or f"{span}: {one['site'].values[0]}"),
        answer=answer,
        sentences=sentences,
        pictures=pictures,
        tables=[plain_table(season_table(one, shares), "Each clock time, over the days")],
        unsure=[*unsure, str(found.attrs["read_for"]), *_LIMITS],
        **standing(scenario, air, weather=str(found.attrs.get("weather", ""))),
    )


def _of_bench(result: BenchResult, when: str) -> Contents:
    scenario, even, about = result.scenario, result.evenness, result.map.attrs
    answer = (
        f"Height varies by {in_cent(even.height)} from plant to plant, and {per_cent(even.outside)} of the "
        f"plants are more than {per_cent(about['band'])} off the mean height."
    )
    if result.levers:
        most = result.levers[0]
        answer += f" What would even it most: {most.action[0].lower()}{most.action[1:]}."
    lines = [line.strip() for line in bench_report(result)[1:]]
    levers = [lever.text for lever in result.levers]
    told = [line for line in lines if line and line != CAUTIONS and line not in levers]
    assumed_noise = next(line for line in told if line.startswith("Variation of speed"))
    ends = [line for line in told if line != assumed_noise and not line.startswith("What would make")]
    levelled = Table(
        "What would make it more even, each computed anew",
        ["change", "height varies by", "deposit varies by", "outside the band", "mean height, of untreated"],
        [
            [name, in_cent(each.height), in_cent(each.deposit), per_cent(each.outside),
             per_cent(each.mean_height)]
            for name, each in [
                ("As it is", even), *((lever.action, lever.evenness) for lever in result.levers)
            ]
        ],
        frozenset({1, 2, 3, 4}),
    )  # fmt: skip
    length, width = (about[f"bench_{side}"] for side in ("length", "width"))
    panel = max(1.6, min(4.1 * width / length + 0.8, 6.0))
    sprayed = result.map["deposit"].size > 0
    several = [
        (panel, f"Map of the deposit over the bench; it varies by {in_cent(even.deposit)}.",
         "The deposit over the bench, darker for more; white: the nozzle's path."),
    ] * sprayed + [
        (panel, f"The bench from above, each plant by its height. {answer}",
         "Plants by their height, dark for short; ringed black: outside the band around the mean."),
    ] + [
        (2.6, " ".join(levers), "What would make it more even; hatched: no better."),
    ] * bool(result.levers)  # fmt: skip
    units = scenario.units
    emitted = units.text(about["emitted_litres"], "L") if sprayed else ""
    area = units.text(length * width, "m^2")
    return Contents(
        kind="One bench",
        title=scenario.title or "One bench",
        facts=facts_of(scenario, when),
        answer=answer,
        sentences=[line if line.endswith(".") else f"{line}." for line in ends],
        pictures=drawn_of(result.plot, several),
        tables=[levelled],
        unsure=[assumed_noise, *_LIMITS],
        record=lines_of(scenario, when, None, volume=emitted, area=area),
        **standing(scenario, {}, bench=result),
    )


def _of_trial(result: TrialResult, when: str, control: float) -> Contents:
    told, unsure = described(result)
    next_rate = result.next_rate(control).text if result.rated else ""
    found = [line.removeprefix("- ") for line in told if line.startswith("- ")]
    others = [line for line in told if line and not line.startswith("- ") and line != next_rate]
    largest = str(result.table["control"].drop(result.check).idxmax())
    row = result.table.to_dict("index")[largest]
    level = f"{100.0 * result.level:.3g} %"
    answer = (
        f"{largest} left plants {100.0 * abs(row['control']):.0f} % "
        f"{'shorter' if row['control'] >= 0.0 else 'taller'} than the check, the most of the treatments; it "
        f"{'differs' if row['p'] < 1.0 - result.level else 'is not shown to differ'} from the check "
        f"({p_value(float(row['p']))})."
    )
    pictures = drawn_of(
        result.plot,
        [(0.9 + 0.5 * len(result.table), f"Heights of all plants by treatment. {' '.join(found)}",
          "Every plant, a dot, and the mean of each treatment, a bar."),
         (0.9 + 0.5 * len(result.table), f"Growth control of each treatment with its interval. {answer}",
          f"Growth control of each treatment with its {level} interval.")],
    )  # fmt: skip
    if result.rated:
        pictures += drawn_of(
            lambda ax: result.plot_dose_response(control, ax),
            [(3.9, f"Height against rate with the fitted curve. {next_rate}",
              "Height against rate, and the rate to try next.")],
        )  # fmt: skip
    return Contents(
        kind="What a trial shows",
        title=f"Trial against {result.check}" + (f": {result.active}" if result.active else ""),
        facts=[when] if when else [],
        answer=answer,
        sentences=[*([next_rate] if next_rate else []), *found, *others],
        pictures=pictures,
        tables=[plain_table(trial_table(result), "Each treatment")],
        unsure=unsure,
        rests_on=_trial_rests_on(result, level),
    )


def _trial_rests_on(result: TrialStatistics, level: str) -> list[str]:
    place = (
        f"Bench position ({', '.join(result.position)}) is taken out as {result.position_as}."
        if result.position
        else "Bench position is not taken out: the table has none, or was read without it."
    )
    return [
        "Plants of one treatment differ by chance alone, each for itself, and as much in every treatment; "
        f"they vary by {plain_number(100.0 * result.cv, 2)} % here. The plants themselves were checked for "
        "that: see what is uncertain.",
        "Pots that were sprayed together in one pass count as plants of their own. If all pots of a "
        "treatment were sprayed in one pass, what that pass did is in the treatment.",
        place,
        f"Intervals hold {level}; p values allow for all comparisons with the check together (Dunnett).",
        *(
            [f"The rate follows a log-logistic curve of {result.fit.parameters} parameters."]
            if result.rated
            else []
        ),
    ]
