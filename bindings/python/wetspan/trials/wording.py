"""Plans, results and calibrations of trials in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wetspan.trials.dose_response import plain_number
from wetspan.trials.layout import codes

if TYPE_CHECKING:
    from wetspan.trials.calibrated import Calibrated
    from wetspan.trials.dose_response import LogLogisticFit, RateEstimate
    from wetspan.trials.planned import PlannedTrial
    from wetspan.trials.statistics import TrialStatistics

_MOST_ODD = 5  # plants to check that are told one by one


def p_value(p: float) -> str:
    """ "p < 0.001" or "p = 0.03"."""
    return "p < 0.001" if p < 0.001 else f"p = {p:.2g}"


def _share(control: float) -> str:
    """ "12 % shorter" or "3 % taller"."""
    return f"{100 * abs(control):.0f} % {'shorter' if control >= 0 else 'taller'}"


def range_of(low: float, high: float) -> str:
    """Return an interval of shares in per cent."""
    if np.isinf([low, high]).any():
        return "no limits"
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def describe(result: TrialStatistics) -> list[str]:
    """Paragraphs: the plants, each treatment, bench position, dose response, diagnostics, notes."""
    found, unsure = described(result)
    return [*found, *unsure]


def described(result: TrialStatistics) -> tuple[list[str], list[str]]:
    """The paragraphs of `describe`: what the plants show, and how sure that is."""
    found = [
        _plants(result),
        *_odd_plants(result),
        *_treatments(result),
        *_position(result),
        *_rates(result),
    ]
    return found, [_diagnostics(result), *result.notes]


def _plants(result: TrialStatistics) -> str:
    status = result.plants["status"].value_counts().to_dict()
    lost = [f"{status[kind]} {kind}" for kind in ("dead", "missing") if kind in status]
    where = [
        f"{name} {row['listed'] - row['measured']}"
        for name, row in result.table.to_dict("index").items()
        if row["listed"] > row["measured"]
    ]
    loss = f" ({', '.join(lost)}: {', '.join(where)})" if where else f" ({', '.join(lost)})" if lost else ""
    k = len(result.treatments)
    return (
        f"{k} treatment{'s' if k > 1 else ''} against the check '{result.check}': {status['measured']} of "
        f"{len(result.plants)} plants measured{loss}. The check stood {plain_number(result.check_mean)} "
        f"{result.height_unit} high; plants treated alike varied by {plain_number(100 * result.cv, 2)} % of "
        "that."
    )


def _odd_plants(result: TrialStatistics) -> list[str]:
    """Plants whose record may be wrong, before what would then be wrong too."""
    plants = result.measured
    told = []
    for plant in result.diagnostics.outlying[:_MOST_ODD]:
        itself = plants["plant"] == plant
        name, height = plants.loc[itself, "treatment"].iloc[0], plants.loc[itself, "height"].iloc[0]
        others = plants.loc[~itself & (plants["treatment"] == name), "height"]
        told.append(
            f"plant {plant}, {plain_number(height)} {result.height_unit} ('{name}', "
            f"others {plain_number(others.min())} to {plain_number(others.max())})"
        )
    more = len(result.diagnostics.outlying) - _MOST_ODD
    return [
        f"Far from their treatment, check the record: {'; '.join(told)}"
        f"{f'; and {more} more' if more > 0 else ''}."
    ] if told else []  # fmt: skip


def _treatments(result: TrialStatistics) -> list[str]:
    lines, alone = [], False
    rows = {name: row for name, row in result.table.to_dict("index").items() if name != result.check}
    for name, row in rows.items():
        low, high = _share(row["control_lower"]), _share(row["control_upper"])
        one_sided = row["control_lower"] * row["control_upper"] > 0
        if one_sided:
            low = low.split()[0]  # "8 to 19 % shorter"
        interval = f"{100 * result.level:.3g} % interval: {low} to {high}"
        if not np.isfinite([row["control_lower"], row["control_upper"]]).all():
            interval = f"no limits at {100 * result.level:.3g} %: the check's height is not told from 0"
        found = row["p"] < 1 - result.level
        alone = alone or (one_sided and not found)
        lines.append(
            f"- {name}: {_share(row['control'])} than the check ({interval}); it "
            f"{'differs' if found else 'is not shown to differ'} from the check (Dunnett, "
            f"{p_value(row['p'])})."
        )
    if alone:
        lines.append(
            "Each interval is for its treatment alone; the test allows for all comparisons together."
        )
    if any(row["p"] >= 1 - result.level for row in rows.values()):
        lines.append(
            "Not shown to differ is not the same as equal: the interval says how large an effect may be."
        )
    return lines


def _position(result: TrialStatistics) -> list[str]:
    if not result.position:
        return []
    found = {str(name): float(p) for name, p in result.anova["p"].items()}
    ignored = {str(name): float(p) for name, p in result.anova_ignoring_position["p"].items()}
    lines = [
        f"Bench position ({name}) {'made a' if found[name] < 0.05 else 'shows no'} difference "
        f"({p_value(found[name])})."
        for name in result.position
    ]
    lines.append(
        f"Treatments together: {p_value(found['treatment'])} with the position taken out, "
        f"{p_value(ignored['treatment'])} had it been ignored."
    )
    return [" ".join(lines)]


def _rates(result: TrialStatistics) -> list[str]:
    if not result.rated:
        one = "One rate only: no dose response, and no other rate can be told from it."
        return [one] if "rate" in result.plants else []
    fit, trend = result.fit, result.trend
    moves = f"Heights {'fall' if trend.t < 0 else 'rise'} with rate (trend, {p_value(trend.p)})."
    if trend.p >= 0.05:
        moves = f"No trend of height with rate is shown ({p_value(trend.p)})."
    floor = f"to {plain_number(fit.lower)}" if fit.parameters == 4 else "with a lower limit held at 0"
    curve = (
        f"Dose response ({fit.parameters}-parameter log-logistic): down from {plain_number(fit.upper)} "
        f"{result.height_unit} {floor}."
    )
    doses = "; ".join(_dose(rate, fit) for rate in result.effective_rates)
    unit = f" [{result.rate_unit}]" if result.rate_unit else ""
    own = result.next_rate(0.25).text
    return [
        " ".join([moves, curve, *fit.warnings]),
        f"Rates{unit} for plants 10, 20 and 50 % shorter: {doses}.",
        own.removesuffix(" ".join(fit.warnings)).strip(),
    ]


def _dose(rate: RateEstimate, fit: LogLogisticFit) -> str:
    """ "EC20 12.6 (9.6 to 16)", and whether the rate or its interval leaves the tested range."""
    name = f"EC{100 * rate.control:.0f}"
    if not np.isfinite(rate.rate):
        return f"{name} not reached"
    if not np.isfinite(rate.lower):
        return f"{name} {plain_number(rate.rate)} (not fixed by these plants)"
    said = f"{name} {plain_number(rate.rate)} ({rate.limits})"
    if not fit.lowest <= rate.rate <= fit.highest:
        return f"{said}, outside the rates tested"
    if rate.lower < fit.lowest or rate.upper > fit.highest:
        return f"{said}, its interval partly outside the rates tested"
    return said


def _diagnostics(result: TrialStatistics) -> str:
    found, lines = result.diagnostics, []
    if found.normality_p < 0.05:
        lines.append(f"Residuals are not normal ({p_value(found.normality_p)}): intervals are approximate.")
    if found.variance_p < 0.05:
        lines.append(
            f"Treatments differ in spread ({p_value(found.variance_p)}): intervals are too narrow where "
            "plants vary most."
        )
    others = [plant for plant in found.influential if plant not in found.outlying]
    if others:
        lines.append(f"The result leans on plant {', '.join(others)}.")
    if not lines and found.outlying:
        return "Residuals look normal and equally spread, but for the plants to check."
    return " ".join(lines) or "Residuals look normal and equally spread; no single plant decides the result."


def describe_calibration(calibration: Calibrated, control: float = 0.25) -> list[str]:
    """Paragraphs: what it stands on, doubts, each input, pairs that are alike, the fit, the next rate."""
    source = calibration.source
    substance = (
        f"Active ingredient: {calibration.active}."
        if calibration.active
        else "The trials do not name their active ingredient: it is taken to be the scenario's."
    )
    next_rate = calibration.next_rate(control).text
    return [
        f"{source[0].upper()}{source[1:]}. {substance}",
        *calibration.warnings,
        *_inputs(calibration),
        *(
            f"The data cannot tell {first} and {second} apart (correlation {correlation:.2f}): what they do "
            "together is known, each one's share in it comes from the prior."
            for (first, second), correlation in calibration.alike.items()
        ),
        *_moved(calibration),
        _met(calibration),
        next_rate.removesuffix(" ".join(calibration.warnings)).strip(),
        "Calibrated, not validated: the values hold for this crop as the model counts its dose under the "
        "other inputs of the scenario.",
    ]


def _inputs(calibration: Calibrated) -> list[str]:
    lines, level, alone = [], f"{100 * calibration.level:.3g} %", calibration.alone.to_dict("index")
    for key, row in calibration.table.to_dict("index").items():
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        said = {
            "the plants": "this is what the plants say",
            "plants and prior": "plants and prior say so together",
            "the prior": "the data say next to nothing, the prior stands",
        }[row["says"]]
        value, low, high, prior, prior_low, prior_high = (
            plain_number(row[name])
            for name in ("value", "lower", "upper", "prior", "prior_lower", "prior_upper")
        )
        by_plants = limits_told(alone[key]["lower"], alone[key]["upper"])
        lines.append(
            f"- {key}: {value}{unit} ({level} interval {low} to {high}; before {prior}, {prior_low} to "
            f"{prior_high}). {100 * row['width']:.0f} % of the prior's width is left: {said}. "
            f"From the plants alone, without the prior: {by_plants}{'' if by_plants == 'no limit' else unit}."
        )
    return lines


def limits_told(low: float, high: float) -> str:
    """Two limits, of which 0 and inf stand for none."""
    if low == 0 and np.isinf(high):
        return "no limit"
    if low == 0:
        return f"below {plain_number(high)}"
    return f"above {plain_number(low)}" if np.isinf(high) else f"{plain_number(low)} to {plain_number(high)}"


def _moved(calibration: Calibrated) -> list[str]:
    """How many combinations of several inputs the data narrowed, and which one best."""
    told = calibration.directions
    keys = list(calibration.parameters)
    if len(keys) == 1:
        return []
    narrowed = told[told["width"] <= 0.9]
    if narrowed.empty:
        return ["No combination of these inputs was narrowed by the data."]
    best = narrowed.iloc[0]
    strongest = sorted(keys, key=lambda key: -abs(float(best[key])))
    moves = [
        f"a {'rise' if best[key] > 0 else 'fall'} of {key}"
        for key in strongest
        if abs(float(best[key])) >= 0.25
    ]
    what = " with ".join(moves) if len(moves) > 1 else f"mainly {strongest[0]}"
    return [
        f"Of {len(keys)} independent combinations of these inputs the data narrowed {len(narrowed)}. Best "
        f"known, to {100 * float(best['width']):.0f} % of the prior's width, is {what}."
    ]


def _met(calibration: Calibrated) -> str:
    if np.isnan(calibration.misfit_p):
        return "Too few treatments to see whether the model's curve has the right shape."
    if calibration.widening > 1:
        return "The model's curve does not have the shape of the plants' answer."
    return f"The model meets the treatment means within what plants vary ({p_value(calibration.misfit_p)})."


def bench_in_marks(plan: PlannedTrial) -> str:
    """The bench in marks, a dot for a guard plant and a blank for an empty place."""
    mark = codes(plan.check, plan.treatments)
    rows, columns = plan.bench
    width = max(map(len, mark.values()))
    places = dict.fromkeys(plan.guards, ".")
    for plant in plan.layout.itertuples():
        places[int(str(plant.row)), int(str(plant.column))] = mark[str(plant.treatment)]
    return "\n".join(
        " ".join(places.get((row, column), "").rjust(width) for column in range(1, columns + 1)).rstrip()
        for row in range(1, rows + 1)
    )
