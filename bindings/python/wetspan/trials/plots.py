"""Pictures of plans, results and calibrations.

Each draws on a new figure, or on axes of one's own, as many as it has panels; and returns the figure, not yet
shown: `figure.savefig("bench.png")`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, TwoSlopeNorm, to_rgb
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter
from scipy import stats

from wetspan.drawing import ACCENT, INK, MUTED, PAPER, Where, styled_panels
from wetspan.parameters import TABLE
from wetspan.trials.compare import Array
from wetspan.trials.dose_response import plain_number
from wetspan.trials.layout import codes
from wetspan.unit_shown import convert

if TYPE_CHECKING:
    from wetspan.trials.calibrated import Calibrated
    from wetspan.trials.dose_response import RateEstimate
    from wetspan.trials.planned import PlannedTrial
    from wetspan.trials.statistics import TrialStatistics

CHECK = "#e9e4d4"
FAR = 4.0  # a rate within this factor of those tested is drawn in its place, one beyond as an arrow
_RAMP = LinearSegmentedColormap.from_list("leaf", ["#cfe6c4", "#6fb389", "#24806f", "#123f52"])
#: From below to above, lightness rising all the way, so that the sign is read in grey.
_LEAN = LinearSegmentedColormap.from_list("lean", ["#5a2408", "#b8693c", "#d3bfa6", "#bfe0dc", "#f1faf8"])


def colours(check: str, treatments: tuple[str, ...]) -> dict[str, tuple[float, float, float]]:
    """Sand for the check, then pale to deep green in the order of the treatments."""
    steps = np.linspace(0, 1, len(treatments)) if len(treatments) > 1 else np.array([0.5])
    ramp = {name: to_rgb(_RAMP(step)) for name, step in zip(treatments, steps, strict=True)}
    return {check: to_rgb(CHECK), **ramp}


def _ink_on(colour: tuple[float, float, float]) -> str:
    return INK if 0.3 * colour[0] + 0.59 * colour[1] + 0.11 * colour[2] > 0.5 else "white"


def bench_map(plan: PlannedTrial, on: Where = None) -> Figure:
    """The bench from above: treatment marks and plant numbers, blocks outlined, guard plants as rings."""
    rows, columns = plan.bench
    cell = float(np.clip(11 / columns, 0.28, 0.75))
    size = (max(columns * cell, 4.5) + 2.6, rows * cell + 1.7)
    with styled_panels(on, ("bench map",), "the picture of a plan", *size) as (figure, (ax,)):
        draw_bench(ax, plan, cell)
    return figure


def draw_bench(ax: Axes, plan: PlannedTrial, cell: float, *, legend_below: bool = False) -> None:
    """Draw the map of `plan` on `ax`; `cell` is the printed size of a place [in]."""
    colour, code = colours(plan.check, plan.treatments), codes(plan.check, plan.treatments)
    rows, columns = plan.bench
    guards, used = set(plan.guards), set(zip(plan.layout["row"], plan.layout["column"], strict=True))
    free = [(r, c) for r in range(1, rows + 1) for c in range(1, columns + 1) if (r, c) not in guards | used]
    for row, column in free:
        ax.plot(column, row, ".", ms=4 * cell, color="#c9cec9")
    for row, column in guards:
        ax.plot(column, row, "o", ms=16 * cell, mfc="none", mec="#b9bfba", mew=0.8)
    for plant in plan.layout.to_dict("records"):
        row, column, fill = plant["row"], plant["column"], colour[plant["treatment"]]
        ax.add_patch(Rectangle((column - 0.5, row - 0.5), 1, 1, fc=fill, ec=PAPER, lw=1.2))
        ink = _ink_on(fill)
        ax.text(column, row + 0.12, code[plant["treatment"]], color=ink, ha="center", va="center",
                fontsize=19 * cell, fontweight="bold")  # fmt: skip
        ax.text(column + 0.42, row - 0.3, str(plant["plant"]), color=ink, ha="right", va="center",
                fontsize=max(9 * cell, 3.5))  # fmt: skip
    _outline_blocks(ax, plan)
    ax.set(xlim=(0.4, columns + 0.6), ylim=(rows + 0.6, 0.4), aspect="equal", xlabel="column", ylabel="row")
    ax.set_xticks(_ticks(columns))
    ax.set_yticks(_ticks(rows))
    ax.tick_params(length=0)
    ax.spines[:].set_visible(True)
    numbers = {plan.check: plan.check_plants, **dict.fromkeys(plan.treatments, plan.plants)}
    handles: list[Any] = [
        Line2D(
            [], [], ls="", marker="s", ms=11, mfc=colour[name], mec=MUTED, label=f"{code[name]}  {name} ({n})"
        )
        for name, n in numbers.items()
    ]
    if plan.guards:
        handles.append(
            Line2D([], [], ls="", marker="o", ms=9, mfc="none", mec="#b9bfba", label="guard, not measured")
        )
    if plan.blocks > 1:
        handles.append(Line2D([], [], color=INK, lw=1.8, label=f"block ({plan.blocks})"))
    if legend_below:
        ax.legend(
            handles=handles,
            loc="upper left",
            bbox_to_anchor=(0, -0.42 / (cell * rows)),
            borderaxespad=0,
            ncols=2,
        )
    else:
        side = ax.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1), borderaxespad=0)
        side.set_title("mark, treatment, plants")
        side.set_alignment("left")
    ax.set_title(f"Bench map: {len(plan.layout)} plants, seed {plan.seed}")


def _outline_blocks(ax: Axes, plan: PlannedTrial) -> None:
    if plan.blocks < 2:
        return
    block = {(p["row"], p["column"]): p["block"] for p in plan.layout.to_dict("records")}
    for (row, column), own in block.items():
        for (r, c), xs, ys in (
            ((row, column + 1), (column + 0.5,) * 2, (row - 0.5, row + 0.5)),
            ((row, column - 1), (column - 0.5,) * 2, (row - 0.5, row + 0.5)),
            ((row + 1, column), (column - 0.5, column + 0.5), (row + 0.5,) * 2),
            ((row - 1, column), (column - 0.5, column + 0.5), (row - 0.5,) * 2),
        ):
            if block.get((r, c)) != own:
                ax.plot(xs, ys, color=INK, lw=1.8, solid_capstyle="round")


def _ticks(n: int) -> list[int]:
    step = max(1, -(-n // 20))
    return list(range(1, n + 1, step))


def _spread(n: int, width: float) -> Array:
    """Even sideways offsets, so that plants of one height stay visible; the same every time."""
    return np.asarray(width * (np.mod(np.arange(n) * 0.618, 1.0) - 0.5), dtype=float)


def heights(result: TrialStatistics, on: Where = None) -> Figure:
    """Left: every plant and the adjusted means. Right: control of each treatment with its interval."""
    names = list(result.table.index)
    colour = colours(result.check, result.treatments)
    two = ("heights", "growth control")
    size = (9.5, 1.8 + 0.55 * len(names))
    layout: dict[str, Any] = {"sharey": True, "width_ratios": (1.25, 1)}
    with styled_panels(on, two, "the picture of a trial", *size, **layout) as (figure, (left, right)):
        for i, name in enumerate(names):
            plants = result.measured.loc[result.measured["treatment"] == name, "height"].to_numpy()
            left.plot(plants, i + _spread(len(plants), 0.5), "o", ms=5, mfc=colour[name], mec=MUTED, mew=0.6)
            left.plot([result.table.loc[name, "adjusted_mean"]] * 2, [i - 0.34, i + 0.34], color=INK, lw=2.2)
        left.axvline(result.check_mean, color=MUTED, lw=1, ls=(0, (4, 3)))
        left.set(xlabel=f"height [{result.height_unit}]", title="Plants (dots) and means (bars)")
        told = [f"{n}\n{m} plants" for n, m in zip(names, result.table["measured"], strict=True)]
        left.set_yticks(range(len(names)), told)
        left.set_ylim(len(names) - 0.5, -0.5)
        for i, name in enumerate(names[1:], 1):
            row = 100 * result.table.loc[name, ["control", "control_lower", "control_upper"]].astype(float)
            right.plot(row.iloc[1:], [i, i], color=INK, lw=1.6)
            right.plot(row.iloc[0], i, "o", ms=9, mfc=colour[name], mec=INK)
            p = result.table.loc[name, "p"]
            right.annotate("p < 0.001" if p < 0.001 else f"p = {p:.2g}", (row.iloc[0], i), xytext=(0, 9),
                           textcoords="offset points", ha="center", fontsize=8, color=INK)  # fmt: skip
        right.axvline(0, color=MUTED, lw=1, ls=(0, (4, 3)))
        right.set(
            xlabel=f"shorter than {result.check} [%]",
            title=f"Growth control, {100 * result.level:.3g} % intervals",
        )
        right.set_ylim(left.get_ylim())
        if right.figure is left.figure:
            right.tick_params(left=False, labelleft=False)
        else:  # nothing beside it says which treatment is which
            right.set_yticks(range(len(names)), told)
    return figure


def dose_response(result: TrialStatistics, control: float | None = 0.25, on: Where = None) -> Figure:
    """Heights against rate on a log scale, zero set apart on the left; curve, band and the rate for
    `control`. The curve is dashed beyond the rates tested."""
    fit, unit = result.fit, result.rate_unit or "as given"
    found = None if control is None else result.next_rate(control)
    span = _span(fit.lowest, fit.highest, found)
    log_low, log_high = np.log10(span)
    zero = log_low - max(0.35, 0.2 * (log_high - log_low))
    width = log_high - zero
    colour = colours(result.check, result.treatments)
    curve = np.linspace(zero + 0.12 * (log_low - zero), log_high, 300)
    tested = np.geomspace(fit.lowest, fit.highest, 300)
    low, high = fit.height_band(10**curve, result.level)
    with styled_panels(on, ("dose response",), "the picture of a dose response", 8, 5.2) as (figure, (ax,)):
        ax.fill_between(curve, low, high, color="#d7e5dc", lw=0)
        ax.plot(curve, fit.height(10**curve), color="#24806f", lw=1.6, ls=(0, (4, 2)))
        ax.plot(
            np.log10(tested),
            fit.height(tested),
            color="#24806f",
            lw=2.2,
            label=f"curve, dashed beyond the rates tested,\nand {100 * result.level:.3g} % band of the mean",
        )
        for name, plants in result.measured.groupby("treatment", sort=False):
            rate = float(plants["rate"].iloc[0])
            x = zero if rate == 0 else np.log10(rate)
            xs = x + _spread(len(plants), 0.04 * width)
            ax.plot(xs, plants["height"], "o", ms=5, mfc=colour[str(name)], mec=MUTED, mew=0.6)
        ax.plot([zero - 0.06 * width, zero + 0.06 * width], [fit.upper] * 2, color=INK, lw=2.2)
        if found is not None:
            height = fit.upper * (1 - found.control)
            share = f"{100 * found.control:.3g} % shorter:"
            if np.isfinite(found.rate):
                label = f"{share} {plain_number(found.rate)} {found.unit} ({found.limits})"
                _mark_rate(ax, found, height, span, label, np.log10)
            else:
                ax.axhline(height, color=ACCENT, lw=1, ls=(0, (4, 3)), label=f"{share} not reached")
        rates = np.unique(result.measured["rate"])
        ax.set_xticks([zero, *np.log10(rates[rates > 0])], ["0", *(f"{rate:g}" for rate in rates[rates > 0])])
        ax.set(xlabel=f"rate [{unit}], log scale, check set apart", ylabel=f"height [{result.height_unit}]")
        ax.set_title(f"Dose response: {fit.parameters}-parameter log-logistic")
        # below the panel: in it, plants stand in every corner
        ax.legend(loc="upper left", bbox_to_anchor=(0, -0.16), fontsize="small")

        def control_of(height: Any) -> Any:
            return 100 * (1 - height / fit.upper)

        def height_of(share: Any) -> Any:
            return fit.upper * (1 - share / 100)

        share_axis = ax.secondary_yaxis("right", functions=(control_of, height_of))
        share_axis.set_ylabel("shorter than the fitted check [%]")
    return figure


def _span(lowest: float, highest: float, found: RateEstimate | None) -> tuple[float, float]:
    """The rates an axis holds: those tested, and the one found with its interval, up to FAR beyond them."""
    told = [] if found is None else [found.rate, found.lower, found.upper]
    held = np.clip([rate for rate in told if not np.isnan(rate)], lowest / FAR, highest * FAR)
    return min([lowest, *held]), max([highest, *held])


def _mark_rate(
    ax: Axes,
    found: RateEstimate,
    y: float,
    span: tuple[float, float],
    label: str,
    place: Callable[[Array], Array] = np.asarray,
) -> None:
    """The rate found as a diamond on its interval; arrows where they leave the rates of `span`.

    `place`: from rates to where they stand along the axis.
    """
    told = np.array([found.rate, found.lower, found.upper])
    at = place(np.clip(told, *span))
    arrows = ["<" if rate < span[0] else ">" if rate > span[1] else "" for rate in told]
    doubts = ["off the scale"] if arrows[0] else []
    doubts += [] if found.inside_tested_range else ["see the warnings in the text"]
    label += f"\n{'; '.join(doubts)}" if doubts else ""
    ax.plot(at[1:], [y, y], color=ACCENT, lw=2)
    for x, arrow in zip(at[1:], arrows[1:], strict=True):
        ax.plot(x, y, arrow or "none", ms=6, color=ACCENT)
    ax.plot(at[0], y, arrows[0] or "D", ms=11 if arrows[0] else 8, color=ACCENT, ls="", label=label)


def diagnostics(result: TrialStatistics, on: Where = None) -> Figure:
    """Residuals against fitted heights, against normal quantiles, and over the bench where it is known."""
    residual, fitted = result.residuals, result.measured["height"].to_numpy() - result.residuals
    colour = colours(result.check, result.treatments)
    fill = [colour[name] for name in result.measured["treatment"]]
    mapped = {"row", "column"} <= set(result.measured.columns)
    names = ("spread", "normal", *(["bench"] if mapped else []))
    with styled_panels(on, names, "the picture of residuals", 13 if mapped else 9, 4.4) as (figure, axes):
        axes[0].scatter(fitted, residual, c=fill, edgecolors=MUTED, linewidths=0.6, s=30)
        axes[0].axhline(0, color=MUTED, lw=1)
        axes[0].set(xlabel=f"fitted height [{result.height_unit}]", ylabel=f"residual [{result.height_unit}]",
                    title="Spread: should not widen")  # fmt: skip
        order = np.argsort(residual)
        quantile = stats.norm.ppf((np.arange(len(residual)) + 0.5) / len(residual))
        axes[1].scatter(
            quantile, residual[order], c=[fill[i] for i in order], edgecolors=MUTED, linewidths=0.6, s=30
        )
        axes[1].plot(quantile, residual.std() * quantile, color=MUTED, lw=1)
        axes[1].set(
            xlabel="normal quantile",
            ylabel=f"residual [{result.height_unit}]",
            title="Normal: should follow the line",
        )
        unusual = {*result.diagnostics.outlying, *result.diagnostics.influential}
        for x, y, plant in zip(fitted, residual, result.measured["plant"], strict=True):
            if plant in unusual:
                axes[0].annotate(
                    f"plant {plant}", (x, y), xytext=(5, 4), textcoords="offset points", fontsize=8
                )
        if mapped:
            _bench_residuals(figure, axes[2], result, residual)
    return figure


def _bench_residuals(figure: Figure, ax: Axes, result: TrialStatistics, residual: Array) -> None:
    rows, columns = (_places(result.measured[name]) for name in ("row", "column"))
    at_row = [rows[name] for name in result.measured["row"]]
    at_column = [columns[name] for name in result.measured["column"]]
    limit = float(np.abs(residual).max())
    size = min(260.0, 3.2e4 / max(len(rows), len(columns)) ** 2)
    scale = TwoSlopeNorm(0, -limit, limit)
    points = ax.scatter(at_column, at_row, s=size, marker="s", c=residual, cmap=_LEAN, norm=scale,
                        edgecolors=MUTED, linewidths=0.6)  # fmt: skip
    ax.set_xticks(
        list(columns.values())[:: max(1, len(columns) // 12)], list(columns)[:: max(1, len(columns) // 12)]
    )
    ax.set_yticks(list(rows.values())[:: max(1, len(rows) // 12)], list(rows)[:: max(1, len(rows) // 12)])
    ax.invert_yaxis()
    ax.margins(0.12)
    ax.set(xlabel="column", ylabel="row", title="Bench: no pattern should be left")
    figure.colorbar(points, ax=ax, label=f"residual [{result.height_unit}]")


def _places(names: Any) -> dict[str, float]:
    """Where each row or column name is drawn: its number, or its turn if names are not numbers."""
    found = list(dict.fromkeys(names))
    try:
        return {name: float(name) for name in sorted(found, key=float)}
    except ValueError:
        return {name: float(i + 1) for i, name in enumerate(found)}


def calibration(found: Calibrated, control: float | None = 0.25, on: Where = None) -> Figure:
    """Control against rate, before and after, with what was measured; and how each input was narrowed."""
    low, high = found.tested
    row = TABLE[found.rate]
    unit, level = f"rate [{found.rate_unit}], log scale", f"{100 * found.level:.3g} %"
    rate = None if control is None else found.next_rate(control)
    least, most = _span(low, high, rate)
    most = min(max(3 * high, most), convert(row.high, row.unit, row.shown))
    rates = np.geomspace(min(low / 3, least), most, 25)
    at = [convert(rate, row.shown, row.unit) for rate in rates.tolist()]
    curve = found.control(at)
    two = ("growth control", "inputs")
    layout: dict[str, Any] = {"width_ratios": (1.7, 1)}
    with styled_panels(on, two, "the picture of a calibration", 11, 5, **layout) as (figure, (ax, widths)):
        ax.axvspan(low, high, color=CHECK, alpha=0.5, lw=0, label="rates tested")
        ax.fill_between(rates, 100 * curve["lower"], 100 * curve["upper"], color="#6fb389", alpha=0.35, lw=0)
        ax.plot(
            rates,
            100 * curve["control"],
            color="#24806f",
            lw=2.2,
            label=f"calibrated, {level} band of the mean",
        )
        ax.plot(rates, 100 * found.before(at), color=MUTED, ls=(0, (4, 3)), label="before")
        for which, (_, rows) in enumerate(found.treatments.groupby("trial")):
            about = np.abs(rows[["lower", "upper"]].to_numpy().T - rows["control"].to_numpy())
            label = f"trial {which + 1}" if len(found.results) > 1 else "measured"
            marker = "os^Dv"[which % 5]
            ax.errorbar(
                rows["rate"],
                100 * rows["control"],
                100 * about,
                fmt=marker,
                color=INK,
                ms=5,
                lw=1,
                label=label,
            )
        if rate is not None and np.isfinite(rate.rate):
            share = 100 * rate.control
            label = f"{share:.3g} %: {plain_number(rate.rate)} {rate.unit} ({rate.limits})"
            _mark_rate(ax, rate, share, (rates[0], rates[-1]), label)
        _log_axis(ax)
        ax.set(xlabel=unit, ylabel="shorter than the check [%]", title="Growth control")
        ax.legend(loc="upper left", fontsize="small")
        _draw_widths(widths, found)
    return figure


def _draw_widths(ax: Axes, found: Calibrated) -> None:
    """The interval of each input before and after, over its value before."""
    place = np.arange(len(found.table))[::-1]
    middle = (found.table["value"] / found.table["prior"]).to_numpy(dtype=float)
    ends = found.table[["prior_lower", "prior_upper", "lower", "upper"]].div(found.table["prior"], axis=0)
    ax.hlines(place, ends["prior_lower"], ends["prior_upper"], color=CHECK, lw=11, label="before")
    ax.hlines(place, ends["lower"], ends["upper"], color="#24806f", lw=5, label="calibrated")
    ax.plot(middle, place, "|", color=PAPER, ms=9)
    _log_axis(ax)
    ax.set_yticks(
        place,
        [
            f"{key}\n{plain_number(row.value)} {row.unit}".removesuffix(" 1")
            for key, row in found.table.iterrows()
        ],
    )
    ax.set_ylim(-0.7, len(place) - 0.3)
    level = f"{100 * found.level:.3g} %"
    ax.set(xlabel=f"{level} interval over the value before, log scale", title="What is known of each input")
    ax.legend(loc="lower right", fontsize="small")


def _log_axis(ax: Axes) -> None:
    """A log scale along x with plain numbers, few enough to read."""
    ax.set_xscale("log")
    ax.xaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.xaxis.set_minor_formatter(NullFormatter())
