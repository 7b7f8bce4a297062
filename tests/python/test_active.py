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
        "crop.half_dose": "0.2 ug",
    }
    assert told.into(ws.Scenario(), given)["active.log_kow"] == 3.7


def test_complete_sets_go_where_changes_go() -> None:
    scenario = ws.Scenario(application={"volume_rate": "3 L/m^2"})
    for told in (ws.active("paclobutrazol"), ws.substrate("peat"), ws.substrate("mineral_soil")):
        assert dict(told) == told.values
        assert scenario.replace(told) == told.into(scenario)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "told", [ws.active("daminozide"), ws.substrate("pine_bark")], ids=lambda told: told.name
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
    assert ws.substrate("peat").into(ws.Scenario())["active.sorption"] == pytest.approx(0.3984)
    soil = ws.substrate("mineral_soil").into(ws.Scenario())
    assert soil["active.sorption"] == pytest.approx(4.3e-3)
    with pytest.raises(ws.InputError, match=r"active\.sorption of pine_bark"):
        ws.substrate("pine_bark").into(ws.Scenario())


def test_what_sorbs_less_lets_roots_take_up_more() -> None:
    drench = ws.Scenario(
        application={"method": "drench", "volume_rate": "5 L/m^2", "concentration": "1 mg/L"}
    )
    peat, soil = (ws.substrate(name).into(drench) for name in ("peat", "mineral_soil"))
    taken = [float(ws.simulate(each).uptake.sel(site="root")) for each in (peat, soil)]
    assert taken[1] > 2.0 * taken[0]
