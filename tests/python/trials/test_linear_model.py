"""The linear model behind a trial: what a known package computes, what refits without a plant show."""

import numpy as np
import pandas as pd
import pytest
from wetspan.trials.linear_model import LinearModel


def bench(seed: int = 4) -> pd.DataFrame:
    """Return made-up plants of three treatments in four blocks on a gradient, one far off, some lost."""
    rng = np.random.default_rng(seed)
    place = np.arange(36)
    plants = pd.DataFrame(
        {
            "treatment": place % 3,
            "block": place // 9,
            "column": place % 9.0,
            "height": rng.normal(20.0, 2.0, 36),
        }
    )
    plants["height"] += 0.4 * plants["column"] - 2.0 * plants["treatment"]
    plants.loc[7, "height"] += 9.0
    return plants.drop(index=[3, 20, 21]).reset_index(drop=True)


def fitted(plants: pd.DataFrame) -> LinearModel:
    def levels(name: str) -> np.ndarray:
        return (plants[name].to_numpy()[:, None] == np.unique(plants[name])[1:]).astype(float)

    terms = {
        "block": levels("block"),
        "treatment": levels("treatment"),
        "column": plants[["column"]].to_numpy(),  # last, where the other package puts numbers
    }
    return LinearModel(terms, plants["height"].to_numpy())


def test_statsmodels_agrees():
    ols = pytest.importorskip("statsmodels.formula.api").ols
    anova_lm = pytest.importorskip("statsmodels.stats.anova").anova_lm
    plants = bench()
    ours, theirs = fitted(plants), ols("height ~ C(block) + C(treatment) + column", plants).fit()
    influence = theirs.get_influence()
    table = anova_lm(theirs, typ=1).loc[["C(block)", "C(treatment)", "column", "Residual"]]
    for name, column in (("df", "df"), ("sum_sq", "sum_of_squares"), ("F", "f"), ("PR(>F)", "p")):
        assert ours.anova[column].to_numpy() == pytest.approx(table[name].to_numpy(), rel=1e-9, nan_ok=True)
    assert ours.residuals == pytest.approx(theirs.resid.to_numpy(), abs=1e-12)
    assert ours.leverage == pytest.approx(influence.hat_matrix_diag, rel=1e-10)
    assert ours.studentised == pytest.approx(influence.resid_studentized_external, rel=1e-9)
    assert ours.cook == pytest.approx(influence.cooks_distance[0], rel=1e-9)
    order = ["Intercept", *(f"C(block)[T.{i}]" for i in (1, 2, 3))]
    order += ["C(treatment)[T.1]", "C(treatment)[T.2]", "column"]
    assert ours.estimates == pytest.approx(theirs.params[order].to_numpy(), rel=1e-10)
    assert ours.covariance == pytest.approx(theirs.cov_params().loc[order, order].to_numpy(), rel=1e-9)


def test_influence_is_that_of_leaving_each_plant_out():
    model = fitted(bench())
    design, height = model.design, model.heights
    for i in range(len(height)):
        others = np.arange(len(height)) != i
        without = np.linalg.lstsq(design[others], height[others], rcond=None)[0]
        left = height[others] - design[others] @ without
        inverse = np.linalg.inv(design[others].T @ design[others])
        spread = np.sqrt(left @ left / (model.df - 1) * (1.0 + design[i] @ inverse @ design[i]))
        assert model.studentised[i] == pytest.approx((height[i] - design[i] @ without) / spread, rel=1e-9)
        shift = design @ (model.estimates - without)
        assert model.cook[i] == pytest.approx(
            shift @ shift / (design.shape[1] * model.variance), rel=1e-8, abs=1e-14
        )


def test_a_plant_that_fixes_an_estimate_alone_has_no_influence_to_tell():
    alone = (np.arange(6) == 5).astype(float)[:, None]
    model = LinearModel({"treatment": alone}, np.array([1.0, -1.0, 2.0, -1.0, -1.5, 7.0]))
    assert model.studentised[5] == model.cook[5] == 0.0
    assert np.isfinite(model.studentised).all()


def test_terms_that_cannot_be_told_apart_are_noticed():
    plants = bench()
    model = fitted(plants)
    assert model.full_rank
    doubled = LinearModel(dict(model.terms) | {"again": model.terms["block"][:, :1]}, model.heights)
    assert not doubled.full_rank
