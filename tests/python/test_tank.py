"""Mixing arithmetic against labels, trade guides and research papers; round trips; what it refuses."""

import csv
import dataclasses
import json
import pickle
import re
from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wetspan.errors import InputError
from wetspan.product import PRODUCTS, Product, find_product
from wetspan.tank import TankMix, applied, mix
from wetspan.units import Quantity

REFERENCE = Path(__file__).parents[1] / "reference" / "tank.csv"
SUSPENSION = "paclobutrazol 0.4 % suspension concentrate"
MICROEMULSION = "paclobutrazol 4 % microemulsion"
UNICONAZOLE = "uniconazole 0.055 % solution"
DAMINOZIDE = "daminozide 85 % soluble powder"


class Row:
    def __init__(self, row: dict[str, str]) -> None:
        pairs = (pair.split("=") for pair in row["inputs"].split(";") if pair.strip())
        self.inputs = {name.strip(): float(value) for name, value in pairs}
        self.value, self.tolerance, self.unit = float(row["value"]), float(row["tolerance"]), row["unit"]
        self.quantity = row["quantity"]

    def __getitem__(self, name: str) -> float:
        return self.inputs[name]

    def holds(self, value: float) -> None:
        assert value == pytest.approx(self.value, abs=self.tolerance)


def rows(quantity: str) -> list[Row]:
    with REFERENCE.open(newline="") as file:
        found = [Row(row) for row in csv.DictReader(file) if row["quantity"] == quantity]
    assert found, f"no rows for {quantity}"
    return found


def value(quantity: "Quantity | None", unit: str) -> float:
    assert quantity is not None
    return float(quantity.to(unit).magnitude)


def paclobutrazol(strength: str) -> Product:
    return Product("it", active_ingredient="paclobutrazol", strength=strength, formulation="suspension")


# Published arithmetic ---------------------------------------------------------------------------------------


def test_label_strength() -> None:
    for row in rows("strength"):
        made = Product(
            "it",
            active_ingredient="paclobutrazol",
            strength=f"{row['mass_share']} dimensionless",
            density=f"{row['density']} kg/m^3",
            formulation="suspension",
        )
        assert made.concentration is not None
        row.holds(made.concentration * 1000)
    label = PRODUCTS[SUSPENSION].concentration
    assert label == pytest.approx(4.0, rel=1e-12)
    for row in rows("active per US fl oz"):
        row.holds(value(applied(SUSPENSION, "1 fl oz", final_volume="1 gal").active_ingredient, "g"))


def test_one_fluid_ounce_in_a_gallon() -> None:
    for row in rows("fl oz per US gal"):
        product = paclobutrazol(f"{row['strength']} g/L")
        row.holds(value(applied(product, "1 fl oz", final_volume="1 gal").concentration, "mg/L"))
    # added to a gallon of water, the final volume is 129 fl oz
    added = applied(SUSPENSION, "1 fl oz", water="1 gal")
    assert value(added.concentration, "mg/L") == pytest.approx(4000 / 129, rel=1e-12)
    assert value(added.final_volume, "fluid_ounce") == pytest.approx(129, rel=1e-12)


def test_product_per_part_per_million() -> None:
    for row in rows("product per mg/L"):
        made = mix(paclobutrazol(f"{row['strength']} g/L"), "1 ppm", volume="1 gal")
        row.holds(value(made.product_volume, "mL"))
    for row in rows("fl oz per mg/L"):
        made = mix(paclobutrazol(f"{row['strength']} g/L"), "1 ppm", volume="1 gal")
        row.holds(value(made.product_volume, "fluid_ounce"))


def test_strengths_differ_tenfold() -> None:
    weak, strong = (mix(name, "20 mg/L", volume="10 L") for name in (SUSPENSION, MICROEMULSION))
    for row in rows("strength ratio"):
        row.holds(value(weak.product_volume, "mL") / value(strong.product_volume, "mL"))


def test_published_dilutions() -> None:
    for row in rows("uniconazole dilution"):
        made = mix(UNICONAZOLE, f"{row['concentration']} kg/m^3", volume=f"{row['gallons']} gal")
        row.holds(value(made.product_volume, "mL"))
    for row in rows("daminozide dilution"):
        made = mix(DAMINOZIDE, f"{row['concentration']} kg/m^3", volume=f"{row['gallons']} gal")
        row.holds(value(made.product_mass, "g"))


def test_dose_per_pot() -> None:
    for row in rows("dose per pot"):
        concentration, volume = f"{row['concentration']} kg/m^3", f"{row['volume']} m^3"
        made = mix(SUSPENSION, concentration, pots=40, volume_per_pot=volume)
        row.holds(value(made.active_per_pot, "mg"))
        back = mix(SUSPENSION, f"{row.value} mg", pots=40, volume_per_pot=volume)
        assert value(back.concentration, "kg/m^3") == pytest.approx(row["concentration"], rel=0.02)


def test_volumes() -> None:
    for row in rows("volume rate"):
        made = mix(SUSPENSION, "20 mg/L", area="500 ft^2", volume_rate=f"{row['quarts']} qt / (100 ft^2)")
        row.holds(value(made.volume_rate, "L/m^2"))
    for row in rows("volume per acre"):
        made = mix(SUSPENSION, "20 mg/L", area="1 acre", volume_rate=f"{row['quarts']} qt per 100 sq ft")
        row.holds(value(made.final_volume, "gal"))
    for row in rows("drench volume"):
        made = mix(SUSPENSION, "1 mg/L", pots=3, volume_per_pot=f"{row['fluid_ounces']} fl oz")
        row.holds(value(made.volume_per_pot, "mL"))


def test_solubility_note() -> None:
    for row in rows("undissolved"):
        made = mix(SUSPENSION, f"{row['concentration']} kg/m^3", volume="10 L")
        assert f"{row.value:.4g} mg/L stays particulate" in made.warnings[0]
    assert mix(SUSPENSION, "26 mg/L", volume="10 L").warnings == ()
    assert "droplets" in mix(MICROEMULSION, "30 mg/L", volume="10 L").warnings[0]
    assert mix(UNICONAZOLE, "50 mg/L", volume="1 L").warnings == ()  # solubility not stated


# Properties ------------------------------------------------------------------------------------------------

targets = st.floats(0.1, 3000)
areas = st.floats(0.1, 1e5)
rates = st.floats(0.01, 2)


@given(targets, areas, rates, st.sampled_from([SUSPENSION, MICROEMULSION]))
def test_applied_undoes_mix_metric(target: float, area: float, rate: float, product: str) -> None:
    made = mix(product, f"{target!r} mg/L", area=f"{area!r} m^2", volume_rate=f"{rate!r} L/m^2")
    assert made.product_volume is not None
    assert made.water_volume is not None
    by_water = applied(product, made.product_volume, water=made.water_volume, area=f"{area!r} m^2")
    by_final = applied(product, made.product_volume, final_volume=made.final_volume, area=f"{area!r} m^2")
    for back in (by_water, by_final):
        assert value(back.concentration, "mg/L") == pytest.approx(target, rel=1e-9)
        assert value(back.volume_rate, "L/m^2") == pytest.approx(rate, rel=1e-9)
        assert value(back.active_per_area, "mg/m^2") == pytest.approx(target * rate, rel=1e-9)
    assert value(made.product_volume, "L") + value(made.water_volume, "L") == pytest.approx(
        value(made.final_volume, "L"), rel=1e-12
    )


@given(targets, st.integers(1, 10000), st.floats(0.1, 100))
def test_applied_undoes_mix_us(target: float, pots: int, ounces: float) -> None:
    made = mix(SUSPENSION, f"{target!r} ppm", pots=pots, volume_per_pot=f"{ounces!r} fl oz per pot")
    told = made.to_dict()
    product, final = told["product_volume"], told["final_volume"]
    assert isinstance(product, dict)
    assert isinstance(final, dict)
    assert (product["us_unit"], final["us_unit"]) == ("fl oz", "gal")
    amount, volume = f"{product['us_value']!r} fl oz", f"{final['us_value']!r} gal"
    back = applied(SUSPENSION, amount, final_volume=volume, pots=pots)
    assert value(back.concentration, "mg/L") == pytest.approx(target, rel=1e-9)
    assert value(back.volume_per_pot, "fluid_ounce") == pytest.approx(ounces, rel=1e-9)
    assert value(back.active_per_pot, "mg") == pytest.approx(target * ounces * 0.0295735295625, rel=1e-9)


@given(targets, areas, rates)
def test_both_systems_agree(target: float, area: float, rate: float) -> None:
    metric = mix(SUSPENSION, f"{target!r} mg/L", area=f"{area!r} m^2", volume_rate=f"{rate!r} L/m^2")
    us = mix(
        SUSPENSION,
        f"{target!r} ppm",
        area=f"{area / 0.09290304!r} sq ft",
        volume_rate=f"{rate * 9.290304 / 0.946352946!r} qt/100 ft2",
    )
    for name in ("product_volume", "water_volume", "final_volume", "active_ingredient", "active_per_area"):
        a, b = getattr(metric, name), getattr(us, name)
        assert value(b, str(a.units)) == pytest.approx(float(a.magnitude), rel=1e-9)


@given(st.floats(0.1, 1000), st.floats(0.1, 1000))
def test_fills_add_up(volume: float, tank: float) -> None:
    made = mix(SUSPENSION, "20 mg/L", volume=f"{volume!r} L", tank=f"{tank!r} L")
    full, last = value(made.fill_volume, "L"), value(made.last_fill_volume, "L")
    assert 0 < last <= full * (1 + 1e-9)
    assert full <= tank * (1 + 1e-9)
    assert made.refills * full + last == pytest.approx(volume, rel=1e-9)
    assert made.refills * value(made.product_per_fill, "mL") + value(made.product_in_last_fill, "mL") == (
        pytest.approx(value(made.product_volume, "mL"), rel=1e-9)
    )


@given(st.floats(0.1, 5000), st.floats(0.1, 1000))
def test_powder_round_trip(target: float, volume: float) -> None:
    made = mix(DAMINOZIDE, f"{target!r} mg/L", volume=f"{volume!r} L")
    assert made.product_volume is None
    assert made.water_volume is None
    assert made.product_mass is not None
    back = applied(DAMINOZIDE, made.product_mass, final_volume=made.final_volume)
    assert value(back.concentration, "mg/L") == pytest.approx(target, rel=1e-9)


# Reading amounts -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "litres"),
    [
        ("1 gal", 3.785411784),
        ("1 US gal", 3.785411784),
        ("1 1/2 gal", 5.678117676),
        ("1 1/2L", 1.5),
        ("1/2 gal", 1.892705892),
        ("2 qt", 1.892705892),
        ("128 fl oz", 3.785411784),
        ("128 fl. oz.", 3.785411784),
        ("128 fluid ounces", 3.785411784),
        ("1 fluid_ounce", 0.0295735295625),
        ("2½ gal", 9.46352946),
        ("1 dm^3", 1.0),
        ("0.001 m3", 1.0),
        ("2 pints", 0.946352946),
        (" 2.5e1 L ", 25.0),
    ],
)
def test_what_volumes_may_look_like(text: str, litres: float) -> None:
    assert value(mix(SUSPENSION, "20 mg/L", volume=text).final_volume, "L") == pytest.approx(
        litres, rel=1e-12
    )


def test_quantities_of_any_registry() -> None:
    other: pint.UnitRegistry[float] = pint.UnitRegistry()
    made = mix(SUSPENSION, other.Quantity(20, "mg/L"), volume=other.Quantity(1, "gallon"))
    assert value(made.final_volume, "L") == pytest.approx(3.785411784, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"target": "30 mg"}, "dose per pot"),
        ({"target": "30 m"}, "wrong dimension"),
        ({"target": "30"}, "has no unit"),
        ({"target": "30 ppn"}, "there is no unit 'ppn'; "),
        ({"target": "0,4 mg/L"}, "did you mean 0.4?"),
        ({"target": "thirty mg/L"}, "does not begin with a number"),
        ({"target": "30 mg/L ** 99"}, "the power of a unit is one digit"),
        ({"target": 30}, "has no unit; give '30 mg/L'"),
        ({"target": "30 milligrumps/L"}, "milligrumps"),
        ({"target": "-30 mg/L"}, "above zero"),
        ({"target": "0 mg/L"}, "above zero"),
        ({"target": pint.get_application_registry().Quantity(float("nan"), "mg/L")}, "above zero and finite"),
        ({"target": pint.get_application_registry().Quantity(float("inf"), "mg/L")}, "above zero and finite"),
        ({"target": True}, "not an amount"),
        ({"target": None}, "not an amount"),
        ({"target": [30]}, "not an amount"),
        ({"target": "4001 mg/L"}, "not below the product's own 4000 mg/L"),
        ({"volume": "10 ft^2"}, "wrong dimension"),
        ({"volume": "10 oz"}, "liquid measure is fl oz"),
        ({"volume": "10 ML"}, "a million litres"),
        ({"volume": "-1 gal"}, "above zero"),
        ({"volume": "1,000 L"}, "may be 1.000 or 1000"),
        ({"volume": None}, "none of them"),
        ({"volume_rate": "0.2 L/m^2"}, "volume_rate and volume"),
        ({"volume": None, "volume_rate": "0.2 L/m^2"}, "needs the area"),
        ({"volume": None, "volume_per_pot": "4 fl oz"}, "needs the number of pots"),
        ({"volume": None, "volume_per_pot": "4 fl oz", "pots": 2.5}, "whole number"),
        ({"volume": None, "volume_per_pot": "4 fl oz", "pots": 0}, "whole number"),
        ({"volume": None, "volume_rate": "2 qt", "area": "5 m^2"}, "wrong dimension"),
        ({"volume": None, "volume_rate": "0.2 L/m^2", "area": "5 m^2/pot"}, "pot"),
        ({"tank": "big"}, "does not begin with a number"),
        ({"measuring_device": "1 g"}, "wrong dimension"),
        ({"product": "paclobutrazol 0.4 % suspension concentrat"}, "did you mean 'paclobutrazol 0.4 %"),
        ({"product": "water"}, "known are"),
    ],
)
def test_refusals_are_one_clear_line(changes: dict[str, object], says: str) -> None:
    arguments: dict[str, object] = {"product": SUSPENSION, "target": "30 mg/L", "volume": "10 L"} | changes
    with pytest.raises(InputError, match=re.escape(says)) as refusal:
        mix(**arguments)  # type: ignore[arg-type]
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"water": "1 gal", "final_volume": "1 gal"}, "either water"),
        ({"water": None}, "either water"),
        ({"water": None, "final_volume": "1 mL"}, "less than the product alone"),
        ({"amount": "3 m"}, "wrong dimension"),
        ({"used": "2 gal"}, "more than was mixed"),
        ({"amount": "30 g", "product": MICROEMULSION}, "density"),
        ({"amount": "30 mL", "product": DAMINOZIDE}, "wrong dimension"),
    ],
)
def test_applied_refuses(changes: dict[str, object], says: str) -> None:
    arguments: dict[str, object] = {"product": SUSPENSION, "amount": "1 fl oz", "water": "1 gal"} | changes
    with pytest.raises(InputError, match=re.escape(says)) as refusal:
        applied(**arguments)  # type: ignore[arg-type]
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"formulation": "suspencion"}, "did you mean 'suspension'"),
        ({"strength": "0.4 %", "density": None}, "needs its density"),
        ({"strength": "140 %"}, "more active ingredient than product"),
        ({"strength": "1200 g/L"}, "more active ingredient than product"),
        ({"strength": "4 g/L", "density": None, "formulation": "powder"}, "by mass"),
        ({"strength": "4 m"}, "wrong dimension"),
        ({"solubility": "26 mg"}, "wrong dimension"),
    ],
)
def test_products_that_cannot_be(changes: dict[str, object], says: str) -> None:
    arguments: dict[str, object] = {
        "active_ingredient": "x",
        "strength": "4 g/L",
        "formulation": "solution",
        "density": "1 kg/L",
    } | changes
    with pytest.raises(InputError, match=re.escape(says)):
        Product("it", **arguments)  # type: ignore[arg-type]


# What is said ----------------------------------------------------------------------------------------------


def test_volume_other_than_the_label_basis() -> None:
    high = mix(SUSPENSION, "20 mg/L", area="10 m^2", volume_rate="3 qt / (100 ft^2)")
    assert "1.5 times" in high.warnings[0]
    assert "more runs off" in high.warnings[0]
    assert "less runs off" in mix(SUSPENSION, "20 mg/L", area="10 m^2", volume_rate="0.1 L/m^2").warnings[0]
    assert mix(SUSPENSION, "20 mg/L", area="10 m^2", volume_rate="0.2 L/m^2").warnings == ()
    own_basis = mix(
        SUSPENSION,
        "20 mg/L",
        area="10 m^2",
        volume_rate="0.3056 L/m^2",
        label_volume_rate="3 qt / (100 ft^2)",
    )
    assert own_basis.warnings == ()


def test_dose_too_small_for_the_device() -> None:
    # 20 mg/L in 1 L is 5 mL of product: 10 divisions of 0.5 mL, just enough
    assert mix(SUSPENSION, "20 mg/L", volume="1 L", measuring_device="0.5 mL").warnings == ()
    coarse = mix(SUSPENSION, "20 mg/L", volume="1 L", measuring_device="1 mL")
    assert "half a division is 10% of it" in coarse.warnings[0]
    # the last fill counts, not the whole
    refilled = mix(SUSPENSION, "20 mg/L", volume="10.1 L", tank="10 L", measuring_device="0.5 mL")
    assert "0.5 mL is little" in refilled.warnings[0]
    assert mix(DAMINOZIDE, "1000 mg/L", volume="1 gal", measuring_device="0.1 g").warnings == ()
    assert mix(DAMINOZIDE, "1000 mg/L", volume="1 gal", measuring_device="1 g").warnings != ()


def test_whole_tanks_need_no_sip_more() -> None:
    made = mix(SUSPENSION, "20 mg/L", volume="5 gal", tank="2.5 gal")
    assert (made.fills, made.refills) == (2, 1)
    assert mix(SUSPENSION, "20 mg/L", volume="1 gal", tank="5 gal").fills == 1


def test_text_is_plain_and_cautious() -> None:
    made = mix(
        SUSPENSION, "30 mg/L", area="500 ft^2", volume_rate="2 qt / (100 ft^2)", tank="1 gal", pots=200
    )
    for words in (
        "70.98 mL (2.4 fl oz) of product",
        "final volume of 9.464 L (2.5 gal)",
        "9.393 L (2.481 gal) of it water",
        "3 fills (2 refills)",
        "0.2037 L/m2 (2 qt/100 ft2)",
        "6.112 mg/m2 (0.5678 mg/ft2)",
        "plants catch less",
        "label",
        "protective equipment",
    ):
        assert words in made.text
    assert str(made) == made.text
    part = applied(SUSPENSION, "10 mL", water="2 L", used="1 L", pots=10)
    assert "Put out: 1 L" in part.text
    assert value(part.active_ingredient, "mg") == pytest.approx(40 / 2.01, rel=1e-12)


def test_results_are_values() -> None:
    made = mix(SUSPENSION, "30 mg/L", volume="10 L", tank="4 L")
    with pytest.raises(dataclasses.FrozenInstanceError):
        made.fills = 1  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        PRODUCTS[SUSPENSION].strength = "5 g/L"  # type: ignore[misc]
    with pytest.raises(TypeError):
        PRODUCTS["mine"] = made.product  # type: ignore[index]
    assert made == mix(SUSPENSION, "30 mg/L", volume="10 L", tank="4 L")
    assert pickle.loads(pickle.dumps(made)) == made
    told = json.loads(json.dumps(made.to_dict()))
    assert told["final_volume"]["value"] == pytest.approx(10)
    assert told["final_volume"]["us_value"] == pytest.approx(2.641720524)
    assert told["refills"] == 2
    assert told["cautions"]
    assert {field.name for field in dataclasses.fields(TankMix)} - set(told) == set()
    with pytest.raises(InputError, match="did you mean 'final_volume'"):
        made.shown("final_volum")


def test_products_say_where_their_numbers_come_from() -> None:
    for name, product in PRODUCTS.items():
        assert find_product(name) is product
        told = {evidence.name: evidence for evidence in product.evidence}
        stated = {
            part for part in ("strength", "density", "solubility") if getattr(product, part) is not None
        }
        assert set(told) == stated
        assert all(evidence.grade in "ABCD" and evidence.source for evidence in product.evidence)
    assert find_product(PRODUCTS[SUSPENSION]) is PRODUCTS[SUSPENSION]


def test_a_product_too_weak_for_the_target_is_told():
    weak = mix(SUSPENSION, "3000 mg/L", volume="1 gal")
    assert any(
        "the product is 75% of the final volume: it is too weak for 3000 mg/L" in w for w in weak.warnings
    )
    for target, told in (("30 mg/L", False), ("790 mg/L", False), ("810 mg/L", True)):  # 800 mg/L: 20 %
        warnings = mix(SUSPENSION, target, volume="1 gal").warnings
        assert any("too weak" in warning for warning in warnings) == told


def test_more_pots_than_can_be_counted_are_refused():
    name = next(iter(PRODUCTS))
    with pytest.raises(InputError, match="is not a whole number of pots, 1 to 1000000000"):
        mix(name, "30 mg/L", pots=10**21, volume_per_pot="4 fl oz")
