"""What the notebooks for a class share: guesses that are kept, sliders that redraw a figure, the style of
figures.

Figures and sentences appear also where sliders cannot, such as in a page exported from an executed notebook.
Sliders and guesses need ipywidgets, on which wetspan itself does not depend.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from wetspan.drawing import caution, tidy
from wetspan.errors import InputError

#: A guess within this share of what is computed is told to be close. Grade D.
CLOSE = 0.15


def panels(count: int = 1, height: float = 3.2, *, sharey: bool = False) -> tuple[Figure, list[Axes]]:
    """Return a figure as wide as a page, `height` inches high, and its panels, side by side."""
    figure = Figure(figsize=(8.4, height), layout="constrained")
    axes = list(figure.subplots(1, count, squeeze=False, sharey=sharey)[0])
    tidy(*axes)
    return figure, axes


def slider(label: str, low: float, high: float, step: float, start: float) -> Any:
    """Return a slider from `low` to `high`; the figure is drawn again when the slider is released."""
    decimals = next(n for n in range(9) if round(step, n) == step)
    return _widgets().FloatSlider(
        value=start,
        min=low,
        max=high,
        step=step,
        readout_format=f".{decimals}f",
        description=label,
        continuous_update=False,
        style={"description_width": "18em"},
        layout={"width": "42em"},
    )


def choice(label: str, options: Sequence[str], start: str) -> Any:
    """Return a list to choose one of `options` from."""
    return _widgets().Dropdown(
        value=start,
        options=list(options),
        description=label,
        style={"description_width": "18em"},
        layout={"width": "42em"},
    )


def slide(draw: Callable[..., tuple[Figure, str]], /, **controls: Any) -> None:
    """Show the figure and the sentence that `draw` returns, below controls (if any) that call it again.

    `draw` takes the value of each control by its name. If it raises `ws.InputError`, the message is shown in
    place of the sentence, and the figure stays. Each figure has the short caution.
    """
    from IPython.display import Image, Markdown, display

    def drawn() -> tuple[Any, Any]:
        figure, text = draw(**{name: control.value for name, control in controls.items()})
        return Image(_png(figure), alt=text), Markdown(text)

    def again(_: object) -> None:
        try:
            for handle, shown in zip(handles, drawn(), strict=True):
                handle.update(shown)
        except InputError as error:
            handles[-1].update(Markdown(f"**Not possible:** {error}"))

    if controls:
        display(_widgets().VBox(list(controls.values())))
    handles = [display(shown, display_id=True) for shown in drawn()]
    for control in controls.values():
        control.observe(again, names="value")


class Guess:
    """A number that a student writes down before it is computed.

    `question` stands above the field for a number in `unit`. `compare` says how far the guess was from the
    computed number, and says it again when the guess is changed.
    """

    def __init__(self, question: str, unit: str) -> None:
        from IPython.display import Markdown, display

        self.question, self.unit = question, unit
        self.computed: float | None = None
        self.field = _widgets().Text(placeholder="a number", description=f"[{unit}]")
        display(Markdown(f"**Guess:** {question}"), self.field)

    @property
    def value(self) -> float | None:
        """The number written down; None where there is none."""
        try:
            value = float(self.field.value.replace(",", ".").replace(self.unit, "").strip())
        except ValueError:
            return None
        return value if np.isfinite(value) else None

    def told(self, computed: float) -> str:
        """Return how far the guess was from a number that was computed; nothing of it without a guess."""
        guess = self.value
        if guess is None:
            return f"{self.question} *Write your guess in its field; then the model's answer stands here.*"
        if abs(guess - computed) <= CLOSE * abs(computed):
            verdict = "close"
        elif computed > 0.0 and guess > 0.0:
            ratio = max(guess / computed, computed / guess)
            verdict = f"{ratio:.2g} times too {'much' if guess > computed else 'little'}"
        else:
            verdict = "too much" if guess > computed else "too little"
        return f"{self.question} The model: **{computed:.3g} {self.unit}**. Your guess: {guess:g}, {verdict}."

    def compare(self, computed: float) -> None:
        """Show what `told` returns, and show it anew when the guess is changed."""
        from IPython.display import Markdown, display

        self.computed = computed
        handle = display(Markdown(self.told(computed)), display_id=True)
        self.field.observe(lambda _: handle.update(Markdown(self.told(computed))), names="value")


def _png(figure: Figure) -> bytes:
    caution(figure)
    picture = io.BytesIO()
    figure.savefig(picture, format="png", dpi=110)
    return picture.getvalue()


def _widgets() -> Any:
    try:
        import ipywidgets
    except ImportError:
        raise ImportError("sliders and guesses want ipywidgets: pip install ipywidgets jupyterlab") from None
    return ipywidgets
