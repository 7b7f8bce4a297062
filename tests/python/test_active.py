"""Active ingredients on file: what is published goes in, what is not has to be given."""

import pytest
import wetspan as ws


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


def test_unknown_names_get_the_nearest() -> None:
    with pytest.raises(ws.InputError, match="did you mean 'paclobutrazol'"):
        ws.active("paclobutrasol")
    with pytest.raises(ws.InputError, match="unknown input"):
        ws.active("uniconazole").into(ws.Scenario(), {"active.solubilty": "8 mg/L"})
