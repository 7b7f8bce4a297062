"""The command's short list of units: each is pint's own to the last bit, and pint's list stands behind it."""

import itertools
import subprocess
import sys

import pint
import pytest
from wetspan.unit_registry import short_registry

PINT = pint.UnitRegistry()


@pytest.fixture
def short():
    return short_registry()


def read_by(registry, name: str):
    """Return a unit's name, its factor and what it is made of; how the text is refused, if it is."""
    try:
        unit = registry.parse_units(name)
    except (pint.PintError, ValueError) as refusal:  # of degC with a prefix, and of c%
        return type(refusal)
    factor, base = registry.get_root_units(unit)
    return str(unit), factor, str(base)


def test_every_name_with_every_prefix_is_pints(short):
    """No name may be read otherwise than by pint, such as hbar as a hectobar."""
    prefixes, names = sorted(short._prefixes), sorted(short._units)
    assert len(names) > 150
    assert len(prefixes) > 15
    short.whole = True  # nothing more is read
    read = 0
    for prefix, name, plural in itertools.product(prefixes, names, ("", "s")):
        text = prefix + name + plural
        ours = read_by(short, text)
        if ours is not pint.UndefinedUnitError:  # as of Js, of which the long list may know more
            assert ours == read_by(PINT, text), text
            read += 1
    assert read > 4000


@pytest.mark.parametrize(
    ("value", "unit", "to"),
    [(71.3, "degF", "K"), (24.0, "degC", "K"), (0.025, "quart / ft**2", "m"), (3.0, "psi", "Pa")],
)
def test_conversions_have_pints_bits(short, value, unit, to):
    assert short.Quantity(value, unit).to(to).magnitude == PINT.Quantity(value, unit).to(to).magnitude
    assert not short.whole


def test_pints_list_is_read_where_a_name_is_not_on_the_short_one(short):
    before = short.Quantity(3.0, "gallon")
    fast = short.Quantity(2.0, "furlong / fortnight").to("m/s")
    assert short.whole
    assert fast.magnitude == PINT.Quantity(2.0, "furlong / fortnight").to("m/s").magnitude
    assert before.to("L").magnitude == PINT.Quantity(3.0, "gallon").to("L").magnitude
    with pytest.raises(pint.UndefinedUnitError, match="frob"):
        short.parse_units("frob")


def test_the_command_begins_with_the_short_list_and_says_the_same():
    """In a process of its own; within this one it leaves pint's registry alone."""
    code = (
        "import sys; from wetspan import command_line, unit_registry\n"
        "how = sys.argv.pop(1); alone = how == 'program'; status = getattr(command_line, how)()\n"
        "print(getattr(unit_registry.registry().get(), 'whole', None), file=sys.stderr)\n"
        "sys.exit(status or (alone and any(name.startswith('dask.') for name in sys.modules)))"
    )
    for volume, whole in (("2 1/2 gal", "False"), ("3 barrel", "True")):
        arguments = ["mix", "--target", "30 mg/L", "--volume", volume]
        own, within = (
            subprocess.run(
                [sys.executable, "-c", code, how, *arguments], capture_output=True, text=True, check=True
            )
            for how in ("program", "main")
        )
        assert own.stdout == within.stdout
        assert "30 mg/L" in own.stdout
        assert own.stderr.split()[-1] == whole
        assert within.stderr.split()[-1] == "None"
