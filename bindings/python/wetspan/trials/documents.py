"""Plans, results and calibrations of trials for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wetspan.cautions import CAUTIONS
from wetspan.json_values import plain, records
from wetspan.trials.dose_response import RateEstimate
from wetspan.trials.wording import describe, describe_calibration

if TYPE_CHECKING:
    from wetspan.trials.calibration import Calibration
    from wetspan.trials.plan import TrialPlan
    from wetspan.trials.read import TrialResult


def plan_document(plan: TrialPlan) -> dict[str, Any]:
    """Return a plan."""
    return {
        "check": plan.check,
        "treatments": list(plan.treatments),
        "rates": plan.rates,
        "rate_unit": plan.rate_unit,
        "plants": plan.plants,
        "check_plants": plan.check_plants,
        "blocks": plan.blocks,
        "bench": list(plan.bench),
        "test": plan.test,
        "power": plan.power,
        "detectable_difference": plan.detectable,
        "seed": plan.seed,
        "height_unit": plan.height_unit,
        "also": list(plan.also),
        "layout": records(plan.layout),
        "guards": [list(place) for place in plan.guards],
        "text": plan.text.splitlines(),
        "cautions": CAUTIONS,
    }


def result_document(result: TrialResult, next_rate: RateEstimate | None) -> dict[str, Any]:
    """Return what a trial shows, with the rate to try next."""
    return {
        "check": result.check,
        "active": result.active,
        "height_unit": result.height_unit,
        "rate_unit": result.rate_unit,
        "level": result.level,
        "cv": result.cv,
        "treatments": records(result.table.reset_index()),
        "effective_rates": [rate_document(rate) for rate in result.effective_rates] if result.rated else [],
        "next_rate": None if next_rate is None else rate_document(next_rate),
        "text": describe(result),
        "cautions": CAUTIONS,
    }


def calibration_document(found: Calibration, control: float) -> dict[str, Any]:
    """Return a calibration, with the rate for a growth control."""
    return {
        "active": found.active,
        "source": found.source,
        "inputs": records(found.table.reset_index()),
        "log_covariance": found.log_covariance.tolist(),
        "directions": records(found.directions.reset_index()),
        "alike": [{"inputs": list(pair), "correlation": value} for pair, value in found.alike.items()],
        "treatments": records(found.treatments),
        "alone": records(found.alone.reset_index()),
        "conflict_p": plain(found.conflict_p),
        "misfit_p": plain(found.misfit_p),
        "widening": found.widening,
        "next_rate": rate_document(found.next_rate(control)),
        "warnings": list(found.warnings),
        "scenario": found.scenario.to_toml(),
        "text": describe_calibration(found, control),
        "cautions": CAUTIONS,
    }


def rate_document(rate: RateEstimate) -> dict[str, Any]:
    """Return a rate and its interval."""
    numbers = {name: plain(getattr(rate, name)) for name in ("control", "rate", "lower", "upper", "level")}
    return numbers | {"unit": rate.unit, "warnings": list(rate.warnings)}
