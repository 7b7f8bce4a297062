"""
A first spray
=============

One spray over the example bench: where the liquid lands, how long the leaves stay wet, and how much shorter
the plants are expected to stay than untreated ones. The greenhouse and the crop are made up.

Requires: wetspan
"""

from importlib.resources import files

import wetspan as ws

scenario = ws.load(files("wetspan") / "examples" / "afternoon_bench.toml")
outcome = ws.simulate(scenario)

print(scenario.title, "\n")
for target in outcome.split["target"].values:
    landed = outcome.split.sel(target=target)
    print(f"{target:>12} {float(landed['share']):6.1%} {float(landed['volume']):8.4f} L/m2")
print(f"\nLeaves are wet for {outcome.wet_time / 60:.0f} min ({outcome.status}).")
print(f"Expected growth control: {outcome.growth_control:.0%} shorter than the untreated check.")
print(f"\n{ws.CAUTIONS}")
