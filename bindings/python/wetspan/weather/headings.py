"""The headings of a plain CSV: which column is which variable, in which unit, and on which clock.

Nothing is guessed. The heading "Temp (°F)" states variable and unit, and "GMT-04:00" states the clock. The
user is asked for everything else at once, with the parameter that answers each question.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from wetspan.errors import InputError, shortened
from wetspan.files import separated
from wetspan.weather.variables import VARIABLES, convert, either, light_factor, same_unit

PREAMBLE = 100  # lines of a CSV that are searched for its headings
NEEDED = ("time", "temperature", "relative_humidity")
DELIMITERS = ",;\t"

#: What a heading of each column is about, and what it must not be about. Words as they stand in headings.
_ABOUT = {
    "time": r"\b(date ?/? ?time|time ?stamp|time|clock)\b",
    "date": r"\bdate\b",
    "temperature": r"\b(temp|temperature|tair|t air|air t|dry ?bulb)\b",
    "relative_humidity": r"\b(rh|r(el)? ?hum\w*|relative humidity|humidity|humid)\b",
    "pressure": r"\b(pressure|barometer|barometric)\b",
    "wind_speed": r"\b(wind ?speed|wspd|air ?speed|wind)\b",
    "shortwave": r"\b(solar|sun(light)?|light|radiation|irradiance|par|ppfd|ghi|shortwave|intensity)\b",
}
_NOT_ABOUT = (
    r"\b(dew|soil|leaf|canopy|substrate|medium|media|mix|roots?|root ?zone|water|pipe|surface|"
    r"globe|black|wet ?bulb|max|maximum|min|minimum|high|low|range|std|stdev|stddev|sd|dev|"
    r"deviation|variance|change|diff|difference|delta|trend|deficit|heat index|wind chill|"
    r"feels|apparent|gust|dir|direction|run|vapou?r|board|battery|logger|case|enclosure|"
    r"heating|heater|boiler|vents?|ventilation|absolute|specific|ratio|set|set ?point|target|"
    r"alarm|limit|threshold|dli|daily|hours|longwave|net|diffuse|direct|beam|reflected|uv|ir|"
    r"infra ?red|lamps?|supplemental|source|uncert\w*|flag|qc|time ?zone)\b"
)
#: What says that a sensor is not where the record is said to be from.
_ELSEWHERE = {
    "crop": r"\b(outside|outdoors?|outer|exterior|external|ambient|roof|station)\b",
    "outdoor": r"\b(inside|indoors?|inner|interior|internal|greenhouse|bench|crop)\b",
}
_PHOTOSYNTHETIC = re.compile(r"\b(par|photosynthetic\w*)\b")
#: What a heading of humidity says where it is no share of saturation: grams in a kilogram, in a cubic metre.
_NOT_RELATIVE = re.compile(r"\b(k?g|g?kg|mmol|mol)\s*[/ ]|[hk]?Pa\b|\bg\s*m-?[³3]|\bppm\b")
_CLOCK = re.compile(
    r"\b(?:GMT|UTC)\s*([+\-\u2212\u2013]\s?\d{1,2}(?::?\d{2})?)?(?!\w)(?!\s*[+\-\u2212\u2013±]\s?\d)"
)


#: Those of these patterns that the page's reader of loggers, in JavaScript, takes over (`page.texts`).
FOR_PAGE = {
    "not_about": _NOT_ABOUT,
    "elsewhere": _ELSEWHERE["crop"],
    "photosynthetic": _PHOTOSYNTHETIC.pattern,
    "not_relative": _NOT_RELATIVE.pattern,
}


@dataclass
class Found:
    """What was found in a file: columns and units by our names, its clock if told, and what is still open."""

    columns: dict[str, str]
    units: dict[str, str]
    time_zone: str | None = None
    open: list[str] = field(default_factory=list)  # one sentence each, with what answers it
    read_as: list[str] = field(default_factory=list)  # what was taken from the headings


def recognise(
    file: str,
    text: str,
    columns: Mapping[str, str],
    units: Mapping[str, str],
    have: Sequence[str],
    exposure: str | None = None,
) -> Found:
    """Return columns and units, those that are stated and those that the headings say.

    `have` are variables that are given otherwise and not looked for. Where time, temperature and humidity are
    all stated, nothing else is read. Of a record from the crop, columns from outside are not read, and of one
    from outdoors none from inside.
    """
    found = Found(dict(columns), dict(units))
    whole = all(name in columns for name in NEEDED)
    header = _headings(text, columns)
    if header is None:
        if not whole:
            first = shortened(text.lstrip().split("\n", 1)[0], 120)
            missing = ", ".join(name for name in NEEDED if name not in columns)
            todo = (
                separated(text.lstrip().split("\n", 1)[0])
                or "give the headings as columns={'time': 'HEADING'} and so on"
            )
            found.open.append(
                f"{file}: no line of headings says {missing}; its first line is '{first}'; {todo}"
            )
        return found
    for name in () if whole else ("date", "time", *VARIABLES):
        if name in columns or name in have:
            continue
        told = [
            each
            for each in header
            if each not in found.columns.values()
            and _is_about(each, name)
            and not re.search(_ELSEWHERE.get(str(exposure), r"(?!)"), _words(each))
        ]
        if len(told) == 1:
            found.columns[name] = told[0]
        elif len(told) > 1 and name != "date":
            found.open.append(
                f"{file}: {either(told)} may be {_said(name)}; give columns={{'{name}': '{told[0]}'}}"
            )
        elif name in NEEDED:
            todo = f"give columns={{'{name}': 'HEADING'}}"
            if name == "time" and (parts := _parts_of_dates(header)):
                todo = f"write what stands in {', '.join(parts)} into one column, such as 2026-05-14 06:00"
            there = shortened(", ".join(header), 240)
            found.open.append(f"{file}: no heading says {_said(name)}, there are {there}; {todo}")
    if "date" in found.columns and "date" not in columns:
        _settle_date(found)
    for name, heading in found.columns.items():
        if name in ("time", "date"):
            clock = _CLOCK.search(heading)
            if clock is not None:
                offset = re.sub(r"[\u2212\u2013]", "-", clock[1] or "").replace(" ", "")
                found.time_zone = f"UTC{offset}"
        elif name not in found.units:
            unit = unit_in(heading, name)
            if unit is not None:
                found.units[name] = unit
                found.read_as.append(f"{_said(name)} from '{heading}' in {unit}")
        if name not in columns and name not in ("time", "date") and name in units:
            found.read_as.append(f"{_said(name)} from '{heading}'")
    return found


def _parts_of_dates(header: Sequence[str]) -> list[str]:
    """Return the headings of columns that hold the year, the month and so on of a stamp; [] if none do."""
    parts = ("year", "month", "day", "hour", "minute")
    told = {_words(each): each for each in header if _words(each) in parts}
    return [told[part] for part in parts if part in told] if {"year", "month", "day"} <= set(told) else []


def _settle_date(found: Found) -> None:
    """Keep a column of dates where another has the times of day; alone it is the column of stamps."""
    if "time" not in found.columns:
        found.columns["time"] = found.columns.pop("date")
        found.open = [each for each in found.open if not each.startswith("time")]
    elif re.search(r"date", found.columns["time"], re.IGNORECASE):
        del found.columns["date"]


def _said(name: str) -> str:
    return VARIABLES[name].long_name if name in VARIABLES else name


def _headings(text: str, columns: Mapping[str, str]) -> list[str] | None:
    """Return the headings: the first line that says most of what is sought, two columns at least."""
    best, most = None, 1
    for fields in _candidates(text):
        told = sum(heading in fields for heading in columns.values())
        told += sum(any(_is_about(each, name) for each in fields) for name in _ABOUT if name not in columns)
        if told > most:
            best, most = fields, told
    return best


def _candidates(text: str) -> Iterator[list[str]]:
    for line in text.split("\n", PREAMBLE)[:PREAMBLE]:
        for delimiter in DELIMITERS:
            if delimiter in line and len(line) < csv.field_size_limit():
                fields = [each.strip() for each in next(csv.reader([line], delimiter=delimiter), [])]
                if len(fields) > 1 and not any(re.match(r"[-+]?\d", each) for each in fields):
                    yield fields


def _words(heading: str) -> str:
    """Return the words of a heading in small letters, without what stands in brackets."""
    bare = re.sub(r"[(\[][^)\]]*([)\]]|$)", " ", heading)
    words = re.sub(r"[_\W]+", " ", bare).strip().lower()
    return re.sub(r"\b(gmt|utc)\b.*", "", words)


def _is_about(heading: str, name: str) -> bool:
    words = _words(heading)
    if re.search(_NOT_ABOUT, words):
        return False
    if name == "date" and re.search(r"\btime|stamp", words):
        return False
    if name == "relative_humidity" and _NOT_RELATIVE.search(heading):
        return False
    return re.search(_ABOUT[name], words) is not None


_DEGREES = {"F": "degF", "C": "degC", "oF": "degF", "oC": "degC", "Cel": "degC"}


def unit_in(heading: str, name: str) -> str | None:
    """Return the unit of a variable that stands in its heading: in brackets, after a comma, at its end."""
    inside = re.findall(r"[(\[]([^)\]]*)[)\]]", heading)
    after = [part.strip() for part in re.split(r"[,;]", re.sub(r"[(\[].*?[)\]]", "", heading))[1:]]
    last = re.split(r"[\s_]+", heading.strip())[-1:]
    for given in (*inside, *after, *last):
        unit = _DEGREES.get(given, given) if name == "temperature" else given
        if not unit or (name == "relative_humidity" and unit in ("RH", "humidity")):
            continue
        try:
            convert(np.zeros(1), unit, name)
        except InputError:
            continue
        spoken = (each for each in VARIABLES[name].common_units if same_unit(unit, each, name))
        unit = next(spoken, unit)
        if name == "shortwave" and _PHOTOSYNTHETIC.search(_words(heading)) and light_factor(unit) is None:
            return f"{unit} PAR" if unit == "W/m^2" else None  # less than half of shortwave is that
        return unit
    return None
