"""Where a section lies in its township, and what government lots there would measure.

A township has six by six sections, numbered from the north-east corner west, then east and west in turn. What is over
or short in a township is put in the last 20 chains on its north and west side: there the plat has lots with acres of
their own, and halving what is on the ground does not find their lines.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.units import ACRE_M2, FOOT_M

if TYPE_CHECKING:
    from fieldgeo.frame import FloatArray

CHAIN_M: Final = 66 * FOOT_M  # NIST, U.S. Survey Foot: Revised Unit Conversion Factors: 20.1168 m
SECTIONS: Final = 36
_ACROSS: Final = 6  # sections, in each way
_QUARTER_QUARTER_CHAINS: Final = 20.0


def place_in_township(section: int) -> tuple[int, int]:
    """Return the column from the west and the row from the north of a section, both from 1.

    Parameters
    ----------
    section : int
        Number of the section, 1 to 36.

    Returns
    -------
    tuple of int
        Column and row. Numbering: BLM, Manual of Surveying Instructions, 1973, 3-75.

    Examples
    --------
    >>> place_in_township(1), place_in_township(6), place_in_township(7), place_in_township(36)
    ((6, 1), (1, 1), (1, 2), (6, 6))
    """
    row, along = divmod(section - 1, _ACROSS)
    return (_ACROSS - along if row % 2 == 0 else along + 1), row + 1


def lot_acres(*, side_a_chains: float, side_b_chains: float, depth_chains: float) -> float:
    """Return the acres of a lot: mean of two parallel sides times the depth between them, over ten.

    Parameters
    ----------
    side_a_chains, side_b_chains : float
        The two parallel sides. [chains]
    depth_chains : float
        Distance between them. [chains]

    Returns
    -------
    float
        Acres. Rule: The American Surveyor, "Fractional Sections and the Relationship of Chains to Acres", January 2008.

    Examples
    --------
    >>> lot_acres(side_a_chains=20.0, side_b_chains=20.0, depth_chains=20.0)
    40.0
    """
    return (side_a_chains + side_b_chains) / 2 * depth_chains / 10


def remaining_chains(line_chains: float) -> float:
    """Return what is left of a section line for the lot at its end, after three times 20 chains. [chains]

    Parameters
    ----------
    line_chains : float
        The whole line. [chains]

    Returns
    -------
    float
        Rule: University civil engineering 331 notes, "Subdivision of Sections": the error is thrown into the last 20.
    """
    return line_chains - 3 * _QUARTER_QUARTER_CHAINS


def lots_of_the_north_m2(ring_m: FloatArray) -> list[float]:
    """Return what four lots along the north side of a section would measure, from west to east. [m2]

    Parameters
    ----------
    ring_m : ndarray of shape (8, 2)
        Corners of the section in the order of `subdivide.CORNERS`. [m]

    Returns
    -------
    list of float
        By the rule of the last 20 chains, on the measured lines. A plat can have other lots.
    """
    depths = np.linspace(
        _rest(np.take(ring_m, (6, 7, 0), axis=0)), _rest(ring_m[2:5]), 5
    )  # from the west line to the east line
    return _lots_m2(depths, _length_chains(ring_m[0:3]) / 4)


def lots_of_the_west_m2(ring_m: FloatArray) -> list[float]:
    """Return what four lots along the west side of a section would measure, from north to south. [m2]

    Parameters
    ----------
    ring_m : ndarray of shape (8, 2)
        Corners of the section in the order of `subdivide.CORNERS`. [m]

    Returns
    -------
    list of float
        By the rule of the last 20 chains, on the measured lines. A plat can have other lots.
    """
    depths = np.linspace(_rest(ring_m[0:3]), _rest(ring_m[4:7]), 5)  # from the north line to the south line
    return _lots_m2(depths, _length_chains(np.take(ring_m, (6, 7, 0), axis=0)) / 4)


def _lots_m2(depths_chains: FloatArray, width_chains: float) -> list[float]:
    return [
        ACRE_M2 * lot_acres(side_a_chains=one, side_b_chains=other, depth_chains=width_chains)
        for one, other in pairwise(depths_chains.tolist())
    ]


def _rest(line_m: FloatArray) -> float:
    return remaining_chains(_length_chains(line_m))


def _length_chains(line_m: FloatArray) -> float:
    return float(np.hypot(*np.diff(line_m, axis=0).T).sum()) / CHAIN_M
