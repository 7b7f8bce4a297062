"""Warnings of inputs that are allowed but probably not meant; the computation goes on."""

from __future__ import annotations

import warnings

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan.weather import Weather

_NOON, _NIGHT = 2.0, 3.0  # h around 12:00 in which there is light, around 0:00 in which there is none
DARK = 5.0  # W/m2 below which it is dark: less than civil twilight (grade D)


def doubt_humectant(humectant: npt.ArrayLike, kappa: npt.ArrayLike) -> None:
    """Warn of a humectant [1] that takes up no water, its `kappa` [1] being left at zero."""
    if np.any((np.asarray(humectant) > 0.0) & (np.asarray(kappa) == 0.0)):
        warnings.warn(
            "liquid.humectant is above zero and liquid.kappa is zero: the humectant takes the place of water "
            "and holds none, so leaves dry sooner; give liquid.kappa, such as 0.3 for glycerol",
            RuntimeWarning,
            stacklevel=3,
        )


def doubt_light(weather: Weather, moments: pd.DatetimeIndex) -> None:
    """Warn of light that never changes where moments of spraying say that it is wrong."""
    light = weather.data["shortwave"].to_numpy()
    if len(moments) == 0 or (light[:50] != light[0]).any() or (light != light[0]).any():
        return
    clock = moments.tz_convert(weather.tz)
    hours = np.asarray(clock.hour + clock.minute / 60.0)
    noon = np.abs(hours - 12.0) <= _NOON
    night = np.abs(hours - 12.0) >= 12.0 - _NIGHT
    for wrong, dark, told in (
        (noon, True, "no light around noon: leaves dry too slowly and stomata stay closed"),
        (night, False, "the same light around midnight as by day: leaves dry too fast"),
    ):
        if wrong.any() and (light[0] < DARK) == dark:
            first = clock[int(wrong.argmax())]
            warnings.warn(
                f"shortwave is {light[0]:g} W/m2 throughout in {weather.source}, and a spray is at "
                f"{first:%Y-%m-%d %H:%M}: {told}; give a column of shortwave",
                RuntimeWarning,
                stacklevel=3,
            )
