"""Weather: records in SI on a clock that is never guessed, read from files or taken from memory."""

from wetspan.weather.files import sample_weather
from wetspan.weather.readers import read_weather
from wetspan.weather.record import Weather, WeatherGrid
from wetspan.weather.variables import VARIABLES, Place, Variable

__all__ = ["VARIABLES", "Place", "Variable", "Weather", "WeatherGrid", "read_weather", "sample_weather"]
