"""What several test files need: the example, weather, and one day of spray times."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import hypothesis
import pytest
import wetspan as ws
import xarray as xr

hypothesis.settings.register_profile("repeatable", deadline=None, derandomize=True)
hypothesis.settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def examples() -> Path:
    """The examples that come with the package."""
    return Path(str(files("wetspan") / "examples"))


@pytest.fixture(scope="session")
def example(examples: Path) -> ws.Scenario:
    return ws.load(examples / "afternoon_bench.toml")


@pytest.fixture(scope="session")
def piedmont() -> ws.Weather:
    return ws.read_weather("piedmont")


@pytest.fixture(scope="session")
def sites(piedmont: ws.Weather) -> dict[str, ws.Weather]:
    return {"hills": piedmont, "coast": ws.read_weather("miami")}


@pytest.fixture(scope="session")
def quick(example: ws.Scenario) -> ws.Scenario:
    """The example with coarser numerics."""
    return example.replace({"droplets.bins": 6, "numerics.tolerance": 1e-4})


@pytest.fixture(scope="session")
def day(example: ws.Scenario, piedmont: ws.Weather) -> xr.Dataset:
    """Spray times of the day that the command shows without arguments, with ranges from few draws."""
    return ws.compare_times(example, piedmont, "2026-05-16T06:00", "2026-05-16T20:00", "1h", samples=8)


@pytest.fixture
def interrupted(tmp_path: Path) -> Callable[[str], tuple[int, str, str]]:
    """Run code that prints "ready" and goes on, interrupt it; return exit status, output and errors."""

    def run(code: str) -> tuple[int, str, str]:
        # a process started in the background may ignore interrupts
        listening = f"import signal\nsignal.signal(signal.SIGINT, signal.default_int_handler)\n{code}"
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
        with subprocess.Popen([sys.executable, "-c", listening], cwd=tmp_path, **pipes) as process:
            try:
                assert process.stdout.readline() == "ready\n"
                time.sleep(0.5)
                process.send_signal(signal.SIGINT)
                out, error = process.communicate(timeout=100)
            finally:
                process.kill()
        return process.returncode, out, error

    return run
