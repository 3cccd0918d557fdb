"""Power that a machine takes by its shafts: threshing, shelling, cutting."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import isfinite
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.tables import Source, source_of, table_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

_T_H: Final = 3.6  # t/h in 1 kg/s


@dataclass(frozen=True, slots=True, kw_only=True)
class Rotary:
    """Rotary power figures of one machine, as the published table has them."""

    machine: str
    a_kw: float  # running empty [kW]
    b_kw_m: float  # for each metre of width [kW/m]
    c_kwh_t: float  # for each tonne of crop [kWh/t]
    spread: float  # the published range is power x (1 - spread) to power x (1 + spread) [-]
    source: Source

    def power_w(self, *, width_m: float, feed_kg_s: float) -> float:
        """Return the power taken at the shafts. [W]

        Parameters
        ----------
        width_m : float
            Working width, > 0. [m]
        feed_kg_s : float
            Crop that goes through, >= 0; grain for a combine. [kg/s]

        Raises
        ------
        InputError
            If a value is out of range.

        Notes
        -----
        P = a + b w + c F with w in m, F in t/h, P in kW: ASAE/ASABE D497, clause on rotary power and Table 2, recalled.
        Whether F counts the straw there is not settled; it is taken as grain here.
        """
        if not (isfinite(width_m) and width_m > 0 and isfinite(feed_kg_s) and feed_kg_s >= 0):
            raise InputError(
                f"rotary power: got a width of {width_m:g} m and a feed of {feed_kg_s:g} kg/s. The width must be above "
                "zero and the feed not below."
            )
        return 1000 * (self.a_kw + self.b_kw_m * width_m + self.c_kwh_t * feed_kg_s * _T_H)


@cache
def rotary_table() -> Mapping[str, Rotary]:
    """Return the published rotary power figures by machine."""
    return {
        row["machine"]: Rotary(
            machine=row["machine"], a_kw=float(row["a_kw"]), b_kw_m=float(row["b_kw_per_m"]),
            c_kwh_t=float(row["c_kwh_per_t"]), spread=float(row["range_pct_plus_minus"]) / 100, source=source_of(row),
        )
        for row in table_rows("rotary_power.csv")
    }  # fmt: skip
