"""Measurements multiplied, and put into a crop."""

from __future__ import annotations

import numpy as np
import pytest
import wetspan as ws
from refusal import refused
from wetspan import measure
from wetspan.measure.calibrate import joined
from wetspan.measure.learned import Learned, prior_sd

SCENARIO = ws.Scenario(title="a made-up bench")
STORE, ANGLE = "retention.leaf_store", "leaf.receding_angle"


def learned(keys, factors, sd, scenario=SCENARIO, df=np.inf):
    before, prior = np.array([np.log(scenario[key]) for key in keys]), prior_sd(keys)
    return Learned(
        tuple(keys), before + np.log(factors), np.diag(np.square(sd)), before, prior, np.full(len(keys), df)
    )


def test_two_say_more_than_one_and_the_prior_counts_once():
    prior = prior_sd([STORE])[0]
    one, other = learned([STORE], [1.3], [0.10]), learned([STORE], [1.1], [0.20])
    both = joined(SCENARIO, [one, other])
    precision = 1 / 0.10**2 + 1 / 0.20**2 - 1 / prior**2
    middle = (np.log(1.3) / 0.10**2 + np.log(1.1) / 0.20**2) / precision
    assert both.sd[0] == pytest.approx(precision**-0.5)
    assert both.center[0] - both.prior_center[0] == pytest.approx(middle)


def test_what_only_one_says_stays_as_it_says():
    both = joined(SCENARIO, [learned([STORE], [1.3], [0.1]), learned([ANGLE], [0.8], [0.2])])
    assert both.keys == (STORE, ANGLE)
    assert np.exp(both.center - both.prior_center) == pytest.approx([1.3, 0.8])
    assert both.sd == pytest.approx([0.1, 0.2])


def test_few_leaves_make_the_saved_spread_wider():
    few, many = learned([STORE], [1.3], [0.1], df=2), learned([STORE], [1.3], [0.1])
    assert np.sqrt(few.wide[0, 0]) == pytest.approx(0.1 * 2.920 / 1.645, rel=1e-3)  # Student's t, 2 df, 90 %
    assert np.sqrt(many.wide[0, 0]) == pytest.approx(0.1)


def test_measurements_of_two_scenarios_are_not_joined():
    other = SCENARIO.replace({STORE: 2e-4})
    refused(lambda: joined(SCENARIO, [learned([STORE], [1.0], [0.1], other)]), STORE, "one scenario")
    refused(lambda: measure.calibrate(SCENARIO, []), "read_leaf")
    refused(lambda: measure.calibrate(SCENARIO, [3]), "read_leaf")


def test_an_input_far_from_what_was_plausible_is_told():
    assert learned([STORE], [4.0], [0.1]).far()[0].startswith(f"{STORE} comes out 4 times")
    assert learned([STORE], [1.3], [0.1]).far() == []
