"""Weather: records in SI on a stated clock, read from files or made from data in memory."""

from wetspan.weather.files import sample_weather
from wetspan.weather.readers import read_weather
from wetspan.weather.record import Weather, WeatherGrid
from wetspan.weather.variables import VARIABLES, Place, Variable

__all__ = ["VARIABLES", "Place", "Variable", "Weather", "WeatherGrid", "read_weather", "sample_weather"]
