"""A trial result in plain sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from wetspan.trials.dose_response import LogLogisticFit, RateEstimate
    from wetspan.trials.read import TrialResult


def p_value(p: float) -> str:
    """ "p < 0.001" or "p = 0.03"."""
    return "p < 0.001" if p < 0.001 else f"p = {p:.2g}"


def _share(control: float) -> str:
    """ "12 % shorter" or "3 % taller"."""
    return f"{100 * abs(control):.0f} % {'shorter' if control >= 0 else 'taller'}"


def describe(result: TrialResult) -> list[str]:
    """Paragraphs: the plants, each treatment, bench position, dose response, diagnostics, notes."""
    return [
        _plants(result),
        *_treatments(result),
        *_position(result),
        *_rates(result),
        _diagnostics(result),
        *result.notes,
    ]


def _plants(result: TrialResult) -> str:
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
        f"{len(result.plants)} plants measured{loss}. The check stood {result.check_mean:.3g} "
        f"{result.height_unit} high; plants treated alike varied by {100 * result.cv:.2g} % of that."
    )


def _treatments(result: TrialResult) -> list[str]:
    lines, alone = [], False
    rows = {name: row for name, row in result.table.to_dict("index").items() if name != result.check}
    for name, row in rows.items():
        low, high = _share(row["control_lower"]), _share(row["control_upper"])
        one_sided = row["control_lower"] * row["control_upper"] > 0
        if one_sided:
            low = low.split()[0]  # "8 to 19 % shorter"
        found = row["p"] < 1 - result.level
        alone = alone or (one_sided and not found)
        lines.append(
            f"- {name}: {_share(row['control'])} than the check ({100 * result.level:.3g} % interval: {low} "
            f"to {high}); it {'differs' if found else 'is not shown to differ'} from the check (Dunnett, "
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


def _position(result: TrialResult) -> list[str]:
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


def _rates(result: TrialResult) -> list[str]:
    if not result.rated:
        one = "One rate only: no dose response, and no other rate can be told from it."
        return [one] if "rate" in result.plants else []
    fit, trend = result.fit, result.trend
    moves = f"Heights {'fall' if trend.t < 0 else 'rise'} with rate (trend, {p_value(trend.p)})."
    if trend.p >= 0.05:
        moves = f"No trend of height with rate is shown ({p_value(trend.p)})."
    floor = f"to {fit.lower:.3g}" if fit.parameters == 4 else "with a lower limit held at 0"
    curve = (
        f"Dose response ({fit.parameters}-parameter log-logistic): down from {fit.upper:.3g} "
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
        return f"{name} {rate.rate:.3g} (not fixed by these plants)"
    said = f"{name} {rate.rate:.3g} ({rate.lower:.3g} to {rate.upper:.3g})"
    if not fit.lowest <= rate.rate <= fit.highest:
        return f"{said}, outside the rates tested"
    if rate.lower < fit.lowest or rate.upper > fit.highest:
        return f"{said}, its interval partly outside the rates tested"
    return said


def _diagnostics(result: TrialResult) -> str:
    found, lines = result.diagnostics, []
    if found.normality_p < 0.05:
        lines.append(f"Residuals are not normal ({p_value(found.normality_p)}): intervals are approximate.")
    if found.variance_p < 0.05:
        lines.append(
            f"Treatments differ in spread ({p_value(found.variance_p)}): intervals are too narrow where "
            "plants vary most."
        )
    if found.outlying:
        lines.append(f"Far from their treatment, check the record: plant {', '.join(found.outlying)}.")
    others = [plant for plant in found.influential if plant not in found.outlying]
    if others:
        lines.append(f"The result leans on plant {', '.join(others)}.")
    return " ".join(lines) or "Residuals look normal and equally spread; no single plant decides the result."
