"""Progress: a bar where somebody looks on and it takes a while, silence elsewhere."""

import io
import sys

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
