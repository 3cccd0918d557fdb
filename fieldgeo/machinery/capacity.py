"""Capacity of a machine from its width, its speed and a field efficiency: how fast it covers ground."""

from __future__ import annotations

from math import isfinite

from fieldgeo.errors import InputError


def theoretical_capacity_m2_s(*, width_m: float, speed_m_s: float) -> float:
    """Return the area covered in a second at full width without a stop.

    Parameters
    ----------
    width_m : float
        Working width, > 0: rows x row spacing for row tools. [m]
    speed_m_s : float
        Speed while working, > 0. [m/s]

    Returns
    -------
    float
        Width x speed. [m2/s]

    Raises
    ------
    InputError
        If width or speed is not a finite number above zero.

    Notes
    -----
    The practice of ASAE EP496.2 (2003), recalled; extension publications [1]_ print it as ft x mph / 8.25 in acres an
    hour, where 8.25 = 43,560 / 5,280 (derived: square feet in an acre over feet in a mile).

    References
    ----------
    .. [1] Iowa State University Extension, PM 696, "Estimating Field Capacity of Farm Machines", 2001.

    Examples
    --------
    >>> theoretical_capacity_m2_s(width_m=10.0, speed_m_s=2.0)
    20.0
    """
    for what, value in (("width_m", width_m), ("speed_m_s", speed_m_s)):
        if not (isfinite(value) and value > 0):
            raise InputError(f"{what}: got {value:g}. It must be a finite number above zero.")
    return width_m * speed_m_s


def effective_capacity_m2_s(*, width_m: float, speed_m_s: float, efficiency: float) -> float:
    """Return the area finished in a second of field time, losses counted.

    This is the way of the printed tables, with one efficiency per machine whatever the field looks like. A layout gives
    the efficiency as an answer; this function serves to check it against the tables.

    Parameters
    ----------
    width_m : float
        Working width, > 0. [m]
    speed_m_s : float
        Speed while working, > 0. [m/s]
    efficiency : float
        Field efficiency, effective over theoretical capacity, 0 < value <= 1. [-]

    Returns
    -------
    float
        Width x speed x efficiency. [m2/s]

    Raises
    ------
    InputError
        If width or speed is not a finite number above zero, or efficiency is outside (0, 1].

    Notes
    -----
    Printed as ft x mph x efficiency / 8.25 in acres an hour [1]_ [2]_.

    References
    ----------
    .. [1] Iowa State University Extension, PM 696, "Estimating Field Capacity of Farm Machines", 2001.
    .. [2] Iowa State University Extension, Ag Decision Maker A3-24, "Estimating the Field Capacity of Farm Machines".

    Examples
    --------
    >>> effective_capacity_m2_s(width_m=10.0, speed_m_s=2.0, efficiency=0.75)
    15.0
    """
    if not 0 < efficiency <= 1:
        raise InputError(f"efficiency: got {efficiency:g}. It must be above 0 and at most 1 (80 % is 0.8).")
    return theoretical_capacity_m2_s(width_m=width_m, speed_m_s=speed_m_s) * efficiency
