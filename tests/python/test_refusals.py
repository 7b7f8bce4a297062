"""Refusals beside other extensions.

Every extension may bring a C++ standard library of its own, in whole or in part. Where ours shows its
symbols, they are mixed up with those of the others: numbers vanish from messages, and throwing may end the
interpreter. So refusals are tried in fresh interpreters that have loaded another extension first. The gate
runs this file twice, the second time with an extension into which the standard library is linked.
"""

import json
import subprocess
import sys

import pytest

# numbers above all, since writing them is what breaks first
PROGRAM = """
import importlib, json, sys, warnings
for name in sys.argv[1:]:
    importlib.import_module(name)
import wetspan as ws
from wetspan import _core, air

def message(action):
    try:
        action()
    except ws.InputError as error:
        return str(error)
    return "it was let in"

scenario = ws.Scenario()
wide = {"rows": 150, "columns": 150, "spacing": "25 cm"}
contrary = {"leaf.receding_angle": 2.5, "leaf.contact_angle": 1.0}
warnings.simplefilter("ignore")  # a batch warns of rows that failed
rows = ws.batch(scenario, {"canopy.pot_diameter": [0.13, 1.5]})
print(json.dumps([
    message(lambda: _core.nozzle_flow(-1.0, 1e5)),
    message(lambda: air.dew_point(-3.0)),
    message(lambda: scenario.replace(contrary)),
    message(lambda: ws.spray_bench(scenario, layout=wide, cell="1 mm")),
    str(rows.reason.values[1]),
]))
"""
HOLDS = [
    ("-1 m3/s", "1e-09 .. 0.01"),
    ("-3 Pa",),
    ("leaf.receding_angle", "leaf.contact_angle"),
    ("1.4234e+09", "4e+06"),
    ("1.5 m", "0.6 m"),
]


@pytest.mark.parametrize("beside", ["", "scipy.stats", "matplotlib.pyplot", "pyarrow"])
def test_a_refusal_is_whole_beside_another_extension(beside, tmp_path):
    command = [sys.executable, "-c", PROGRAM, *beside.split()]
    result = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
    assert result.returncode == 0, result.stderr
    messages = json.loads(result.stdout)
    for message, fragments in zip(messages, HOLDS, strict=True):
        assert all(fragment in message for fragment in fragments), messages
