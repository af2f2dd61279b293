"""Did fuel consumption truly change? In order: `rows` (steps made ready; `road`, `weather`),
`physics` (what the road asks), `learn` and `wind` (what the logs tell of it), `days` and
`adjust` (the comparison), `fillups`, `parts`, `expected`, `enough`, `plan`, `savings`, `rules`,
`verdict`, and `find`, which puts them together."""

from gearing.analysis.fuel.find import find_fuel
from gearing.analysis.fuel.model import FuelFinding

__all__ = ["FuelFinding", "find_fuel"]
