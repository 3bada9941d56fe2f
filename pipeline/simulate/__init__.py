"""Invented rooms of any size, with the true answer beside them. Reads and imports nothing of the other rooms."""

from pipeline.simulate.parameters import Parameters
from pipeline.simulate.site import Simulated, simulate_site

__all__ = ["Parameters", "Simulated", "simulate_site"]
