"""Active ingredients on file: what is published goes in, what is not has to be given."""

import pytest
import wetspan as ws
from refusal import refused
from wetspan.active import PublishedSet


def test_paclobutrazol_is_complete_and_is_the_default() -> None:
    told = ws.active("paclobutrazol")
    assert not told.missing
    assert "peat" in told.limits
    assert set(told.sources) == set(told.values)
    default = ws.Scenario()
    for key, value in told.into(default).items():
        assert value == pytest.approx(default[key], rel=2e-3), key


@pytest.mark.parametrize("name", [name for name in ws.actives() if name != "paclobutrazol"])
def test_what_is_not_published_is_asked_for(name: str) -> None:
    told = ws.active(name)
    with pytest.raises(ws.InputError, match=r"no published value is known here for active\.solubility"):
        told.into(ws.Scenario())
    given = {
        "active.solubility": "8 mg/L",
        "active.log_kow": 3.7,
        "active.molar_volume": "240 cm^3/mol",
        "active.loss_rate": "0.01 / day",
        "active.sorption": "400 L/kg",
        "crop.half_amount": "0.2 ug",
    }
    assert told.into(ws.Scenario(), given)["active.log_kow"] == 3.7


def test_complete_sets_go_where_changes_go() -> None:
    scenario = ws.Scenario(application={"volume_rate": "3 L/m^2"})
    for told in (ws.active("paclobutrazol"), ws.substrate("pine_bark"), ws.substrate("mineral_soil")):
        assert dict(told) == told.values
        assert scenario.replace(told) == told.into(scenario)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "told", [ws.active("daminozide"), ws.substrate("rock_wool")], ids=lambda told: told.name
)
def test_incomplete_sets_are_refused_there_with_the_way_in(told: PublishedSet) -> None:
    refused(
        lambda: ws.Scenario().replace(told),  # type: ignore[arg-type]
        f"{told.missing[0]}",
        f"of {told.name}; give them, with your source",
        f"into(scenario, {{'{told.missing[0]}': ...}})",
    )


@pytest.mark.parametrize("which", ["active", "substrate"])
def test_help_says_which_sets_are_complete(which: str) -> None:
    ask, names = getattr(ws, which), getattr(ws, f"{which}s")()
    complete = [name for name in names if not ask(name).missing]
    told = ask.__doc__
    assert all(name in told for name in complete)
    assert ".into(scenario)" in told


def test_unknown_names_get_the_nearest() -> None:
    with pytest.raises(ws.InputError, match="did you mean 'paclobutrazol'"):
        ws.active("paclobutrasol")
    with pytest.raises(ws.InputError, match="unknown input"):
        ws.active("uniconazole").into(ws.Scenario(), {"active.solubilty": "8 mg/L"})


def test_substrates_sorb_as_published() -> None:
    # K_F 398.4 L/kg on peat (Wilson et al., authors from memory); 4.3 L/kg, geometric mean of 13 soils
    for name, sorption in (("peat", 0.3984), ("mineral_soil", 4.3e-3)):
        scenario = ws.substrate(name).into(ws.active("paclobutrazol").into(ws.Scenario()))
        sorbed = scenario["active.sorption"] * scenario["substrate.sorption_factor"]
        assert sorbed == pytest.approx(sorption, rel=2e-3)
    for name in ("perlite", "rock_wool"):
        with pytest.raises(ws.InputError, match=rf"substrate\.sorption_factor of {name}"):
            ws.substrate(name).into(ws.Scenario())


@pytest.mark.parametrize("name", ws.substrates())
def test_every_value_of_a_substrate_has_its_source(name: str) -> None:
    told = ws.substrate(name)
    assert set(told.sources) == set(told.values)
    assert all(source[:2] in {"A:", "B:", "C:", "D:"} for source in told.sources.values())


def drench(**changes: object) -> ws.Scenario:
    """A drench of 118 mL to a pot, at the table's 43 pots per m2."""
    application = {"method": "drench", "volume_rate": "5.08 L/m^2", "concentration": "1 mg/L"}
    return ws.Scenario(application=application | changes)


def root_uptake(scenario: ws.Scenario) -> float:
    return float(ws.simulate(scenario).uptake.sel(site="root"))


def test_bark_needs_three_to_four_times_the_drench_of_peat() -> None:
    # HortScience 33(6):1030 (abstract): this sets the factor of bark, so it is no test of the model
    peat, bark = (ws.substrate(name) for name in ("peat", "pine_bark"))
    wanted = root_uptake(peat.into(drench()))
    rates = {times: root_uptake(bark.into(drench(concentration=f"{times} mg/L"))) for times in (3, 4)}
    assert rates[3] < wanted < rates[4]


def test_what_hardly_sorbs_is_slightly_more_active_in_bark() -> None:
    # chlormequat: HortScience 33(6):1030 (abstract); bark holds less water, so the same amount is stronger
    mobile = drench().replace({"active.sorption": "0 L/kg"})
    peat, bark = (root_uptake(ws.substrate(name).into(mobile)) for name in ("peat", "pine_bark"))
    assert 1.0 < bark / peat < 2.0


def test_wood_chips_change_nothing() -> None:
    # Owen, Jackson, Whipker and Fonteno 2016, HortTechnology (abstract)
    chips = ws.substrate("peat_wood_chips").into(drench())
    assert root_uptake(chips) == root_uptake(drench())


def test_sub_irrigation_is_at_least_as_strong_as_a_drench() -> None:
    # poinsettia: Niu, Heins and Carlson 2002, HortTechnology 12:232 (abstract)
    above, below = drench(), drench(method="sub_irrigation")
    assert 1.0 < root_uptake(below) / root_uptake(above) < 2.0


def test_what_a_pot_cannot_hold_is_counted_elsewhere() -> None:
    for method in ("drench", "sub_irrigation"):
        outcome = ws.simulate(drench(method=method, volume_rate="30 L/m^2"))
        assert float(outcome.account.sum()) == pytest.approx(1.0, abs=1e-12)
        assert float(outcome.account.sel(place="bench")) > 0.1


def test_what_sorbs_less_lets_roots_take_up_more() -> None:
    peat, soil = (root_uptake(ws.substrate(name).into(drench())) for name in ("peat", "mineral_soil"))
    assert soil > 2.0 * peat
