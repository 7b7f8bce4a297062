"""What every plan and every result says about handling the chemical."""

from __future__ import annotations

CAUTIONS = (
    "The product label and local regulations rule: they decide the crops, rates and methods allowed.",
    "Wear the protective equipment the label asks for and keep people out for the re-entry interval.",
    "Test a rate on a few plants first; cultivar, season and climate change the answer.",
    "Licensed practice decides. These figures are estimates, not a prescription.",
)
