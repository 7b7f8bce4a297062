"""Time stamps of a plain CSV: their pattern, and their clock.

Nothing is guessed: a day above 12 or the order of the stamps shows which number is the month.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone, tzinfo
from itertools import pairwise

import pandas as pd

from wetspan.errors import InputError, Problems
from wetspan.weather.cells import Cells
from wetspan.weather.clock import YEARS, YEARS_ALLOWED, clock_of, localize

_STAMP = re.compile(
    r"(?P<a>\d{1,4})(?P<sep>[/.\-])(?P<b>\d{1,2})(?P=sep)(?P<c>\d{1,4})(?P<gap>,? )"
    r"(?P<clock>\d{1,2}:\d{2})(?P<s>:\d{2})?(?P<fraction>\.\d+)?(?P<half> [AP]M)?"
)


#: Dates with the name of their month: day first, or month first.
_NAMED = (
    (
        re.compile(r"\d{1,2}(?P<sep>[- ])(?P<month>[A-Za-z]{3,9})(?P=sep)(?P<year>\d{2}|\d{4})(?P<gap>,? )"),
        "%d{sep}{month}{sep}{year}",
    ),
    (
        re.compile(r"(?P<month>[A-Za-z]{3,9})(?P<sep> )\d{1,2}, (?P<year>\d{2}|\d{4})(?P<gap>,? )"),
        "{month} %d, {year}",
    ),
)
_CLOCK = re.compile(r"\d{1,2}:\d{2}(?P<s>:\d{2})?(?P<fraction>\.\d+)?(?P<half> [AP]M)?")
_MIDNIGHT = re.compile(r"(?<!\d)24:00(?=(:00)?(\.0+)?$)")
_DAY_ZERO = datetime(1899, 12, 30)  # day numbers of spreadsheets have no zone


def plain_stamp(text: str) -> str:
    """Return a stamp with plain single spaces, and AM or PM apart in capitals."""
    spaced = " ".join(text.split())
    return re.sub(r"(?<=\d)\s*([aApP])\.?\s?[mM]\.?$", lambda half: f" {half[1].upper()}M", spaced)


def pattern_of(texts: Sequence[str], longest_gap: timedelta) -> str:
    """Return the one pattern, for strptime, that stamps are written in.

    InputError where none is, or where day and month may be exchanged: neither a number above 12 nor the
    order of the stamps tells them apart.
    """
    if texts and (named := _with_named_month(texts[0])):
        return named
    matches = [_STAMP.fullmatch(text) for text in texts]
    if not matches or any(match is None for match in matches):
        raise InputError("not a date and a time of day")
    first = matches[0]
    assert first is not None
    sep, year = first["sep"], "%Y" if max(len(first["a"]), len(first["c"])) == 4 else "%y"
    clock = _clock(first)
    if len(first["a"]) == 4:
        return f"%Y{sep}%m{sep}%d{first['gap']}{clock}"
    month_first, day_first = (
        f"{date.replace('/', sep)}{sep}{year}{first['gap']}{clock}" for date in ("%m/%d", "%d/%m")
    )
    if sep != "/" and year == "%y" and len(first["a"]) == 2:
        return _year_at_either_end(texts, sep, f"{first['gap']}{clock}", longest_gap)
    a, b = (max(int(match[name]) for match in matches if match is not None) for name in "ab")
    if a > 12 and b > 12:
        raise InputError("neither number of the dates is a month")
    if b > 12:
        return month_first
    if a > 12 or sep == ".":
        return day_first
    running = [each for each in (month_first, day_first) if _runs_on(texts, each, longest_gap)]
    if len(running) == 1:
        return running[0]
    one = next(
        (text for text, match in zip(texts, matches, strict=True) if match and match["a"] != match["b"]),
        texts[0],
    )
    raise InputError(
        f"'{one}' may have the month first or the day; give units={{'time': '{month_first}'}} or "
        f"units={{'time': '{day_first}'}}"
    )


def _clock(match: re.Match[str]) -> str:
    """Return the pattern of a time of day."""
    clock = "%I:%M" if match["half"] else "%H:%M"
    clock += (":%S" if match["s"] else "") + (".%f" if match["fraction"] else "")
    return clock + (" %p" if match["half"] else "")


def _with_named_month(text: str) -> str:
    """Return the pattern of a stamp such as "16-May-2026 06:00", "" for any other."""
    for form, pattern in _NAMED:
        date = form.match(text)
        clock = date and _CLOCK.fullmatch(text, date.end())
        if date and clock:
            month = "%b" if len(date["month"]) == 3 else "%B"
            year = "%Y" if len(date["year"]) == 4 else "%y"
            return f"{pattern.format(sep=date['sep'], month=month, year=year)}{date['gap']}{_clock(clock)}"
    return ""


def _year_at_either_end(texts: Sequence[str], sep: str, clock: str, longest_gap: timedelta) -> str:
    """Return the pattern of dates such as 26-05-16, whose year of two digits may be the first or the last."""
    readings = [f"{date.replace('-', sep)}{clock}" for date in ("%y-%m-%d", "%d-%m-%y", "%m-%d-%y")]
    running = [each for each in readings if _runs_on(texts, each, longest_gap)]
    if len(running) == 1:
        return running[0]
    if sep == "." and readings[1] in running:  # with points the day is written first
        return readings[1]
    either = " or ".join(f"units={{'time': '{each}'}}" for each in running or readings)
    raise InputError(f"'{texts[0]}' may have the year first or last; give {either}")


def moment_of(text: str, pattern: str | None) -> datetime:
    """Return the moment of a stamp; 24:00 is the end of its day. ValueError for what is none."""
    early = _MIDNIGHT.sub("00:00", text)
    stamp = datetime.fromisoformat(early) if pattern is None else datetime.strptime(early, pattern)
    return stamp if early == text else stamp + timedelta(days=1)


def _runs_on(texts: Sequence[str], pattern: str, longest_gap: timedelta) -> bool:
    """Return whether stamps read so increase without a gap that is too long."""
    try:
        moments = [moment_of(text, pattern) for text in texts]
    except ValueError:
        return False
    steps = [after - before for before, after in pairwise(moments)]
    return all(timedelta(0) < step <= longest_gap for step in steps)


def with_pattern(cells: Cells, longest_gap: timedelta) -> Cells:
    """Return the cells, the pattern of their stamps settled where they are not ISO 8601."""
    texts = [plain_stamp(text) for text in cells.texts["time"]]
    if "time" in cells.units:
        if "%p" in cells.units["time"]:
            return replace(cells, texts={**cells.texts, "time": texts})
        return cells
    try:
        moment_of(texts[0], None)
    except ValueError:
        pass
    else:
        return cells
    try:
        pattern = pattern_of(texts, longest_gap)
    except InputError as error:
        if "units=" in str(error):
            raise InputError(f"{cells.file}: {error}") from None
        return cells  # what is no time is told stamp by stamp
    return replace(cells, texts={**cells.texts, "time": texts}, units={"time": pattern, **cells.units})


def _day_number(cells: Cells) -> str:
    """Return what to do about stamps that are the day numbers of a spreadsheet, "" for others."""
    text = cells.texts["time"][0].replace(",", ".")
    if not re.fullmatch(r"[3-6]\d{4}(\.\d+)?", text):
        return ""
    moment = (_DAY_ZERO + timedelta(days=float(text))).replace(microsecond=0)
    return (
        f"a date and a time; it looks like a spreadsheet's day number, {moment.isoformat(' ', 'minutes')}: "
        "give the column a format of date and time, and save it again"
    )


def stamps_of(
    cells: Cells, time_zone: str | None, in_heading: str | None = None
) -> tuple[pd.DatetimeIndex, tzinfo]:
    """Return the stamps of a CSV in UTC, and the record's own clock.

    `in_heading` is the clock that the heading of the stamps tells, with which `time_zone` has to agree.
    """
    pattern = cells.units.get("time")
    iso = "ISO 8601 such as 2026-05-14T06:00, or a pattern stated as units={'time': '%m/%d/%Y %H:%M'}"
    parsed: list[datetime] = []
    untimely: list[int] = []
    problems = Problems()
    for row, text in enumerate(cells.texts["time"]):
        try:
            stamp = moment_of(text, pattern)
        except ValueError:
            untimely.append(row)
            continue
        if stamp.year not in YEARS:
            problems.add(f"{cells.where(row, 'time')}; {YEARS_ALLOWED}")
        elif parsed and (stamp.tzinfo is None) != (parsed[0].tzinfo is None):
            problems.add(f"{cells.where(row, 'time')}: either all stamps carry a UTC offset or none")
        else:
            parsed.append(stamp)
    if len(untimely) == len(cells.lines):  # one cause, told once
        more = f", nor is that of {len(untimely) - 1} more lines"
        raise InputError(
            f"{cells.where(0, 'time')} is not a time{more}; allowed is {_day_number(cells) or pattern or iso}"
        )
    for row in untimely:
        problems.add(f"{cells.where(row, 'time')} is not a time; allowed is {pattern or iso}")
    problems.refuse()
    if parsed[0].tzinfo is not None:
        offsets = sorted({stamp.utcoffset() or timedelta() for stamp in parsed})
        if time_zone is None and len(offsets) > 1:
            raise InputError(
                f"{cells.file}: stamps carry {len(offsets)} offsets, {timezone(offsets[0])} to "
                f"{timezone(offsets[-1])}; give their clock, as time_zone='America/New_York'"
            )
        clock = timezone(offsets[0]) if time_zone is None else clock_of(time_zone)
        return pd.DatetimeIndex(pd.to_datetime(parsed, utc=True)), clock
    time_zone = in_heading if time_zone is None else time_zone
    if time_zone is None:
        raise InputError(
            f"{cells.where(0, 'time')} has no UTC offset; give time_zone=, such as 'America/New_York' for a "
            "clock with daylight saving, 'UTC-05:00' for standard time all year"
        )
    clock = clock_of(time_zone)
    stamps, fault = localize(pd.DatetimeIndex(parsed), clock)
    if in_heading is not None:
        said, _ = localize(pd.DatetimeIndex(parsed), clock_of(in_heading))
        if ((stamps - said) != timedelta(0)).any() and fault is None:
            raise InputError(
                f"{cells.file}: '{cells.headings['time']}' tells the clock {in_heading}, and time_zone="
                f"'{time_zone}' gives other times; give time_zone='{in_heading}', or correct the heading"
            )
    if fault is not None:
        year = parsed[fault[0]].year
        ends = (clock.utcoffset(datetime(year, month, 1)) or timedelta() for month in (1, 7))
        raise InputError(
            f"{cells.where(fault[0], 'time')} {fault[1]} on the clock of {clock}; if the logger stays on "
            f"standard time, give that, as time_zone='{timezone(min(ends))}'; else write the UTC offset into "
            "the stamps"
        )
    return stamps.tz_convert("UTC"), clock
