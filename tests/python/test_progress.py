"""Progress: a bar where somebody looks on and it takes a while, silence elsewhere."""

import io
import sys
import time

import pytest
import wetspan as ws
from wetspan import progress


class Terminal(io.StringIO):
    """Stands for a terminal."""

    def isatty(self) -> bool:
        return True


def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("TERM", "xterm")
    return stream


def test_a_bar_is_shown_in_a_terminal_once_it_takes_a_while(monkeypatch):
    stream = terminal(monkeypatch)
    with progress.shown(None) as told:
        told(1, 4)
    assert stream.getvalue() == ""  # it was quick
    monkeypatch.setattr(progress, "_PATIENCE", 0.0)
    ws.batch(ws.Scenario({"droplets.bins": 6}), {"air.speed": [0.2, 0.3]})
    assert "sprays" in stream.getvalue()


def test_it_is_silent_elsewhere(capfd, monkeypatch):
    monkeypatch.setattr(progress, "_PATIENCE", 0.0)
    with progress.shown(None) as told:
        assert told is None
    ws.batch(ws.Scenario({"droplets.bins": 6}), {"air.speed": [0.2, 0.3]})
    assert capfd.readouterr() == ("", "")


def test_a_progress_of_one_s_own_takes_its_place(monkeypatch):
    stream = terminal(monkeypatch)
    monkeypatch.setattr(progress, "_PATIENCE", 0.0)
    heard = []
    with progress.shown(lambda *told: heard.append(told)) as told:
        told(1, 2)
    assert heard == [(1, 2)]
    assert stream.getvalue() == ""


def test_whatever_takes_long_shows_that_it_works(monkeypatch, piedmont):
    """One bar for each call, whatever it is made of; a spinner where nothing is known of the way to go."""
    quick = ws.Scenario({"droplets.bins": 6, "numerics.tolerance": 1e-4})
    monkeypatch.setattr(progress, "_PATIENCE", 0.0)
    few = ["crop.half_amount", "uptake.cuticle"]
    for what, do in {
        "sprays": lambda: ws.uncertainty(quick, 8),
        "runs": lambda: ws.sobol(quick, 2, inputs=few),
        "seeks the rate": lambda: ws.rate_for(quick, "20 cm", samples=8),
        "sprays the bench": lambda: ws.spray_bench(quick, layout={"rows": 3, "columns": 4}),
    }.items():
        if what == "runs":
            pytest.importorskip("SALib")
        stream = terminal(monkeypatch)
        do()
        assert what in stream.getvalue(), what
    stream = terminal(monkeypatch)
    ws.compare_times(quick, piedmont, "2026-05-14T15:00", "2026-05-14T16:00", samples=2)
    assert "sprays" in stream.getvalue()


def test_a_bar_within_a_bar_is_not_shown(monkeypatch):
    monkeypatch.setattr(progress, "_PATIENCE", 0.0)
    stream = terminal(monkeypatch)
    with progress.shown(None, "outer") as outer, progress.shown(None, "inner") as inner:
        assert inner is None
        with progress.working("spinner"):
            time.sleep(0.05)
        outer(1, 2)
    assert "outer" in stream.getvalue()
    assert "spinner" not in stream.getvalue()
    stream = terminal(monkeypatch)
    with progress.silent(), progress.shown(None) as told:
        assert told is None
    with progress.working("spinner"):
        time.sleep(0.2)
    assert "spinner" in stream.getvalue()


def test_uncertainty_tells_its_draws(piedmont):
    quick = ws.Scenario({"droplets.bins": 6, "numerics.tolerance": 1e-4})
    told: list[tuple[int, int]] = []
    for sensors in (False, True):
        told.clear()
        ws.uncertainty(
            quick, 70, weather=piedmont, time="2026-05-14T15:00", given=None, sensors=sensors,
            inputs=["uptake.cuticle"], progress=lambda *each: told.append(each),
        )  # fmt: skip
        assert told[-1] == (70, 70)
        assert told == sorted(told)
