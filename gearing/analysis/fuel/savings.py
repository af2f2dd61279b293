"""Money and carbon: what the change is worth in a year, and when it has paid.

CO2 per volume: 10,180 g per US gallon of diesel and 8,887 g of gasoline (EPA greenhouse gas
rating; the diesel figure is 2,778 g of carbon per gallon over 0.273, 40 CFR 600.113-12).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.analysis.fuel.model import Savings
from gearing.messages import Text, message
from gearing.statistics.estimate import Estimate, unknown
from gearing.units import GALLON_L

if TYPE_CHECKING:
    from gearing.study.model import Study

CO2_KG_PER_L = {"diesel": 10.180 / GALLON_L, "gasoline": 8.887 / GALLON_L}


def savings_of(
    study: Study, change: Estimate, liters_per_100km_before: float | None
) -> tuple[Savings | None, Text | None]:
    """Savings of a change of consumption [%], or the reason for none.

    `liters_per_100km_before` is what moving took per true distance on the old tires.
    """
    money = study.money
    if money is None or money.distance_per_year_m is None:
        return None, message("no-yearly-distance")
    if change.value is None or liters_per_100km_before is None:
        return None, change.why or message("consumption-before-unknown")
    per_year_l = money.distance_per_year_m / 1e5 * liters_per_100km_before

    def saved_l(percent: float) -> float:
        return -percent / 100 * per_year_l

    price, cost = money.fuel_price_per_l, money.cost
    saving = (
        change.map(lambda p: saved_l(p) * price)
        if price is not None
        else unknown(message("no-fuel-price"))
    )
    factor = CO2_KG_PER_L.get(study.vehicle.fuel or "")
    carbon = (
        change.map(lambda p: saved_l(p) * factor)
        if factor is not None
        else unknown(message("no-fuel-kind"))
    )
    return Savings(money.currency, saving, _years(saving, cost), carbon), None


def _years(saving: Estimate, cost: float | None) -> Estimate:
    """Years until the cost is back; an end of the interval that never pays is None."""
    if cost is None:
        return unknown(message("no-cost"))
    if saving.figures is None:
        return unknown(saving.why or message("saving-unknown"))
    value, low, high = saving.figures
    if value <= 0:
        return unknown(message("never-pays"))
    longest = cost / low if low > 0 else None
    return Estimate(cost / value, cost / high, longest, saving.n, "cost-over-saving")
