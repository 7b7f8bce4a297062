"""Published responses against the model: orders and signs must be right, and the page tells what is."""

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
spec = importlib.util.spec_from_file_location("responses", ROOT / "tools" / "write_response_table.py")
responses = importlib.util.module_from_spec(spec)
import sys  # noqa: E402

sys.modules["responses"] = responses
spec.loader.exec_module(responses)


@pytest.fixture(scope="module")
def computed():
    return {row.published["id"]: row for row in responses.rows()}


def test_every_row_is_computed_or_says_why_not(computed):
    assert {key for key, row in computed.items() if row.ours is not None} == set(responses.MODEL)
    for row in computed.values():
        told = row.published
        assert isinstance(row.ours, bool) == (told["unit"] == "order")
        if row.ours is None:
            assert told["not_run"].startswith(("form: ", "cannot: "))
            assert not told["low"] + told["high"]
        elif told["unit"] != "order":
            assert float(told["low"]) <= float(told["value"]) <= float(told["high"])


def test_orders_and_signs_are_right(computed):
    wrong = [key for key, row in computed.items() if isinstance(row.ours, bool) and not row.met]
    assert not wrong


def test_calibrated_rows_are_met(computed):
    # they set defaults; that they are met is no evidence for the model
    for key in ("R64", "R66", "R68"):
        assert computed[key].met, (key, computed[key].ours)


def test_the_page_is_what_the_model_says(computed):
    written = (ROOT / "docs" / "science" / "responses.md").read_text(encoding="utf-8")
    assert written == responses.page(list(computed.values()))
