"""The grammar of quantities: text such as "2 1/2 US qt per 100 sq. ft." becomes a number and a unit.

    quantity = number [unit] | number ("/" | "per") unit
    number   = [sign] (decimal | fraction | whole fraction)      "30", ".5", "1e-3", "1/2", "2 1/2", "2½"
    unit     = product {("/" | "per") divisor}                   "W/m^2/K", "qt per 100 sq ft"
    product  = factor {["*"] factor}
    divisor  = [number] factor {factor}                          what follows "/" stands below it as far as
                                                                 the next "/": "W/m^2 K" is W/(m^2 K)
    factor   = (name | "(" unit ")") [power]
    power    = ["^" | "**"] [sign] digit                         "m^2", "m2", "m²", "s-1"

Text that people read in two ways is refused, and the readings are named. Lengths and powers are bounded, so
that no text takes long. Whether a name is a unit, pint says (`wetspan.units`).
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import NamedTuple

from wetspan.errors import shortened

LONGEST = 80  # characters of a text that is read

_DECIMAL = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]{1,3})?(?![0-9])"
_MIXED = re.compile(r"([0-9]+)(?:\s+|-)([0-9]+)\s*/\s*([0-9]+)(?![0-9.])")
_FRACTION = re.compile(r"([0-9]+)\s*/\s*([0-9]+)(?![0-9.])")
_PLAIN = re.compile(_DECIMAL)
_COMMA = re.compile(r"[0-9][0-9.,]*,[0-9][0-9.,]*")
_RANGE = re.compile(r"[0-9.]\s*(?:-|to|or|±|\+-|\+/-)\s*[0-9.]")

_LENGTHS = "feet|foot|ft|inch(?:es)?|in|yards?|yd|met(?:er|re)s?|cm|m"
_DEGREES = r"(?:(?<![a-z_])deg(?:rees?)?[._]?|[°º˚])"
#: How the trade writes, and what is read. In this order.
_TRADE = tuple(
    (re.compile(pattern, re.IGNORECASE), read)
    for pattern, read in (
        (r"\bper\s+cent\b|%|(?<![a-z_])pct(?![a-z])", " percent "),
        (r"\bpercent\s+RH\b", "percent"),
        (r"‰", " permille "),
        (r"(?<=g)\s+a\.?\s?i\.?(?=\s*/|\s+per\b)", ""),  # "mg a.i./L" of active ingredient
        (r"\(\s*(?-i:U\.?\s?S\.?)\s*\)", ""),
        (
            r"(?<![a-z_])(?-i:U\.\s?S\.|US)[\s_]*(?:liquid\s+|liq\.?\s+)?(?=[a-z])",
            "",
        ),  # pint's gallon is that
        (r"(?<![a-z_])fl(?:uid)?[.\s_]*(?:ounces?|ozs?)(?![a-z])\.?", "fluid_ounce"),
        (r"(?<![a-z_])(?:imperial|imp\.?|UK)[\s_]*(?=gal|quart|qt|pint|pt|fluid_ounce)", "imperial_"),
        (rf"(?<![a-z_])sq(?:uare)?[.\s]*({_LENGTHS})(?![a-z])\.?", r"\1^2"),
        (rf"(?<![a-z_])cu(?:bic)?[.\s]*({_LENGTHS})(?![a-z])\.?", r"\1^3"),
        (rf"{_DEGREES}\s*c(?:elsius)?(?![a-z])|℃", "degC"),
        (rf"{_DEGREES}\s*f(?:ahrenheit)?(?![a-z])|℉", "degF"),
        (r"(?<![a-z_])celsius(?![a-z])", "degC"),
        (r"(?<![a-z_])fahrenheit(?![a-z])", "degF"),
        (r"(?<![a-z_])wks?(?![a-z])\.?", "week"),
        (r"(?<![a-z_])fpm(?![a-z])", "(ft/min)"),
        (r"\bper\b", "/"),
    )
)
_PINT_NAMES = {
    "imperial_gal": "imperial_gallon",
    "imperial_qt": "imperial_quart",
    "imperial_pt": "imperial_pint",
}
_COUNTED = re.compile(r"(?:pot|plant|container|basket|cell|flat)s?", re.IGNORECASE)
_SUPERSCRIPTS = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+-0123456789")
_TOKEN = re.compile(
    rf"""\s*(?:
      (?P<number>{_DECIMAL})
    | (?P<name>(?:cm|mm|in|ft)_?H2O(?![A-Za-z]) | [A-Za-zµμΩ°_]+)
    | (?P<power>(?:\*\*|\^)\s*(?P<sign>[-+]?)\s*(?P<digits>[0-9]+) | [⁺⁻]?[⁰¹²³⁴-⁹]+)
    | (?P<symbol>[*\u00b7\u22c5\u2219\u00d7/()])
    )""",
    re.VERBOSE,
)


class UnreadableError(ValueError):
    """Text that is no quantity, or may be two; the message says why, and what it may be read as."""


class Written(NamedTuple):
    """What stands in a text: its number, its unit for pint ("" for none), and the unit as it was written.

    `per` and `of` are the pots and plants below and above the line, which are counted and have no unit.
    """

    number: float
    unit: str
    said: str
    per: tuple[str, ...] = ()
    of: tuple[str, ...] = ()


def read(text: str) -> Written:
    """Return the number and the unit that a text says; UnreadableError for any other text."""
    clean = _clean(text)
    number, rest = _number(clean)
    if not rest:
        return Written(number, "", "")
    if (match := _FRACTION.match(clean)) and not (int(match[1]) < int(match[2]) <= 64):
        number_alone = f"{number:g} {rest}"
        raise UnreadableError(
            f"it may be {number_alone} or {match[1]} per {match[2]} {rest}; write the one that is meant"
        )
    unit = _Unit(rest)
    value = number * unit.factor
    if not math.isfinite(value):
        raise UnreadableError("the number is too large")
    return Written(value, unit.written, rest, tuple(unit.per), tuple(unit.of))


def read_unit(text: str) -> Written:
    """Return the unit that stands alone in a text, such as "mg/L", "1/day" or "per 100 sq ft"; number 1."""
    clean = _clean(text)
    if clean[:1].isdigit():
        written = read(clean)
        return written._replace(said=clean)
    if not clean:
        raise UnreadableError("there is no unit")
    unit = _Unit(clean)
    return Written(unit.factor, unit.written, clean, tuple(unit.per), tuple(unit.of))


def read_number(text: str) -> float:
    """Return the number that a text is, such as "2 1/2"; UnreadableError for a text with more in it."""
    number, rest = _number(_clean(text))
    if rest:
        raise UnreadableError(f"'{shortened(rest)}' stands after the number")
    return number


def plain_number(text: str) -> float:
    """Return the number of a cell that mostly is a plain one, as `read_number` does."""
    try:
        value = float(text)
    except ValueError:
        return read_number(text)
    return value if math.isfinite(value) and "_" not in text else read_number(text)


def _clean(text: str) -> str:
    """Return a text with plain spaces, minus signs and fractions."""
    if len(text) > LONGEST:
        raise UnreadableError(f"it has {len(text)} characters, {LONGEST} are read")
    plain = []
    for character in text:
        if unicodedata.category(character) in ("Zs", "Cc") and character.isspace():
            plain.append(" ")
        elif unicodedata.decomposition(character).startswith("<fraction>"):
            plain.append(" " + unicodedata.normalize("NFKC", character).replace("\u2044", "/"))
        else:
            plain.append({"\u2212": "-", "\u2044": "/", "\u2013": "-"}.get(character, character))
    return "".join(plain).strip()


def _number(text: str) -> tuple[float, str]:
    """Return the number that a text begins with, and what follows it."""
    sign, unsigned = (
        (-1.0, text[1:].lstrip()) if text.startswith("-") else (1.0, text.removeprefix("+").lstrip())
    )
    if comma := _COMMA.match(unsigned):
        raise UnreadableError(_readings_of_a_comma(comma[0]))
    if match := _MIXED.match(unsigned):
        whole, above, below = (int(digits) for digits in match.groups())
        if not 0 < above < below:
            raise UnreadableError(f"'{match[0]}' is no mixed number such as 2 1/2")
        value = whole + above / below
    elif match := _FRACTION.match(unsigned):
        above, below = (int(digits) for digits in match.groups())
        if not below:
            raise UnreadableError(f"'{match[0]}' divides by zero")
        value = above / below
    elif match := _PLAIN.match(unsigned):
        value = float(match[0])
    else:
        raise UnreadableError("it does not begin with a number")
    if not math.isfinite(value):
        raise UnreadableError("the number is too large")
    rest = re.sub(r"^1\s*/\s*(?=[^\W\d]|\()", "/", unsigned[match.end() :].strip())  # "2 1/day" is 2 per day
    if _RANGE.match(unsigned[match.end() - 1 :]):
        raise UnreadableError("it is a range; give one number")
    if second := re.match(r"[-+]?[0-9.][0-9./]*", rest):
        raise UnreadableError(_readings_of_two_numbers(match[0], second[0]))
    return sign * value, rest


def _readings_of_a_comma(digits: str) -> str:
    told = "write decimals with a point, thousands without a comma"
    if digits.count(",") == 1 and "." not in digits:
        if not re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):  # thousands come in threes
            return f"{told}; did you mean {digits.replace(',', '.')}?"
        return f"'{digits}' may be {digits.replace(',', '.')} or {digits.replace(',', '')}; {told}"
    return f"'{digits}' cannot be read as one number; {told}"


def _readings_of_two_numbers(first: str, second: str) -> str:
    if "/" in first:
        readings = f"{second} {first} or {first} alone"
        return f"'{first} {second}' may be {readings}; a mixed number has its whole part first"
    if "/" in second:
        return f"'{first} {second}' is no mixed number such as 2 1/2"
    return f"'{first} {second}' may be {first}{second} or {first} alone; write one number without spaces"


_QUOTES = "\"'\N{PRIME}\N{DOUBLE PRIME}\N{RIGHT SINGLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}"


class _Unit:
    """The unit of a text, read by descent."""

    def __init__(self, text: str) -> None:
        said = text
        for pattern, written in _TRADE:
            said = pattern.sub(written, said)
        self._tokens: list[tuple[str, str]] = []
        at = 0
        while at < len(said.rstrip()):
            match = _TOKEN.match(said, at)
            if match is None:
                mark = said[at:].strip()[:1]
                advice = "; write in for inches and ft for feet" if mark in _QUOTES else ""
                advice = "; write thousands without a comma" if mark == "," else advice
                raise UnreadableError(f"'{mark}' has no meaning in a unit{advice}")
            at = match.end()
            kind = str(match.lastgroup)
            if kind == "power":
                self._tokens.append((kind, _power(match)))
                continue
            self._tokens.append((kind, match[kind]))
            if kind == "name":
                if power := re.compile(r"[-+]?[0-9]+").match(said, at):  # m2, s-1
                    self._tokens.append(("power", _bounded(power[0])))
                    at = power.end()
                elif re.compile(r"\.(?![0-9])").match(said, at):  # ft. is ft, and m.s-1 is m s-1
                    at += 1
        self.factor = 1.0
        self.per: list[str] = []
        self.of: list[str] = []
        self._powers: dict[str, int] = {}
        self._at = 0
        self._unit(1)
        if self._at < len(self._tokens):
            kind, token = self._tokens[self._at]
            if kind == "number":
                raise UnreadableError(
                    f"there is a second number, '{token}', in it; give one number with one unit"
                )
            raise UnreadableError(f"'{token}' is out of place in the unit")

    @property
    def written(self) -> str:
        """The unit as pint reads it."""
        return "*".join(
            name if power == 1 else f"{name}**{power}" for name, power in self._powers.items() if power
        )

    def _next(self) -> tuple[str, str]:
        return self._tokens[self._at] if self._at < len(self._tokens) else ("end", "")

    def _unit(self, sign: int) -> None:
        if self._next() != ("symbol", "/"):
            self._product(sign, below=sign < 0)
        while self._next() == ("symbol", "/"):
            self._at += 1
            self._product(-sign, below=True)

    def _product(self, sign: int, *, below: bool) -> None:
        if below and self._next()[0] == "number":
            number = float(self._next()[1])
            if number <= 0.0:
                raise UnreadableError("the unit divides by zero")
            self.factor *= number**sign
            self._at += 1
            if self._next()[0] == "power":
                raise UnreadableError("a power of a number is not read")
            if self._next() == ("end", ""):
                raise UnreadableError("a number without a unit stands below the line")
        else:
            self._factor(sign)
        while True:
            kind, token = self._next()
            if kind == "symbol" and token not in "/()":
                if self._divided():
                    raise UnreadableError(
                        "what is multiplied after '/' may stand above or below the line; use parentheses"
                    )
                self._at += 1
                self._factor(sign)
            elif kind == "name" or (kind, token) == ("symbol", "("):
                self._factor(sign)
            else:
                return

    def _divided(self) -> bool:
        """Return whether a '/' stands before this token, outside closed parentheses."""
        depth = 0
        for _, token in reversed(self._tokens[: self._at]):
            depth += (token == ")") - (token == "(")
            if depth < 0:
                return False
            if depth == 0 and token == "/":
                return True
        return False

    def _factor(self, sign: int) -> None:
        kind, token = self._next()
        self._at += 1
        if (kind, token) == ("symbol", "("):
            self._unit(sign)
            if self._next() != ("symbol", ")"):
                raise UnreadableError("a parenthesis is not closed")
            self._at += 1
            if self._next()[0] == "power":
                raise UnreadableError("a power of parentheses is not read")
        elif kind == "name":
            power = 1
            if self._next()[0] == "power":
                power = int(self._next()[1])
                self._at += 1
            self._name(token, sign * power)
        elif kind == "number":
            raise UnreadableError(
                f"there is a second number, '{token}', in it; give one number with one unit"
            )
        else:
            raise UnreadableError(
                f"'{token}' is out of place in the unit" if token else "the unit ends too early"
            )

    def _name(self, name: str, power: int) -> None:
        if re.fullmatch(r"M[Ll]", name):
            raise UnreadableError(f"{name} is a million litres; a millilitre is written mL")
        if _COUNTED.fullmatch(name):
            (self.of if power > 0 else self.per).append(name.lower().removesuffix("s"))
            return
        name = _PINT_NAMES.get(name, name)
        self._powers[name] = self._powers.get(name, 0) + power


def _power(match: re.Match[str]) -> str:
    if match["digits"] is None:
        return _bounded(match["power"].translate(_SUPERSCRIPTS))
    return _bounded(match["sign"] + match["digits"])


def _bounded(power: str) -> str:
    if len(power.lstrip("+-")) > 1:
        raise UnreadableError("the power of a unit is one digit")
    return power
