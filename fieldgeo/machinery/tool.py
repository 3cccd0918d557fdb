"""`Tool`: what a tool is and can do, in the few numbers that the geometry of the work needs."""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import inf, isfinite
from typing import Literal

from fieldgeo.errors import InputError
from fieldgeo.machinery.capacity import theoretical_capacity_m2_s

Hitch = Literal["mounted", "pulled", "self-propelled"]
HITCHES: tuple[Hitch, ...] = ("mounted", "pulled", "self-propelled")
Throws = Literal["right", "both"]
THROWS: tuple[Throws, ...] = ("right", "both")

_ABOVE_ZERO = (
    "width_m", "speed_m_s", "turn_speed_m_s", "turn_radius_m", "turn_radius_left_m", "turn_radius_right_m",
    "reverse_speed_m_s", "wheel_track_m", "tire_m",
)  # fmt: skip
_NOT_BELOW_ZERO = ("pull_out_m", "raise_s", "lower_s", "reverse_m", "shift_s", "tail_m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A tool with the tractor that carries it through the field.

    Parameters
    ----------
    name : str
        What the grower calls it.
    width_m : float
        Working width: rows x row spacing for row tools, > 0. [m]
    kind : str
        Machine of the published table (`fieldgeo.machinery.published`), such as ``"row-crop planter"``, or ``""``.
    rows : int, optional
        Number of rows, >= 1.
    row_spacing_m : float, optional
        Distance between rows, > 0. [m]
    sections : int
        Parts of the width that lift or shut off by themselves, >= 1; 1 is the whole width at once. [-]
    lap_m : float
        Lap that the driver keeps on purpose between neighbouring passes, 0 <= lap < width / 2. [m]
    speed_m_s : float
        Speed while working, > 0. [m/s]
    turn_speed_m_s : float
        Speed while turning, > 0. [m/s]
    turn_radius_m : float
        Least radius of the steered reference point, > 0. [m]
    turn_radius_left_m, turn_radius_right_m : float, optional
        Where it differs: the least radius on that side, > 0; `turn_radius_m` holds for the other. [m]
    pull_out_m : float
        Straight run past the end of a pass before a turn can begin (length of the tool behind the hitch), >= 0. [m]
    raise_s, lower_s : float
        Time that each lifting and each setting down adds, >= 0. [s]
    hitch : {"mounted", "pulled", "self-propelled"}
        How the tool is carried.
    reverse_m : float, optional
        How far it can be backed in one go, >= 0. Left out, a mounted or self-propelled tool can be backed any distance,
        a pulled one not at all. [m]
    reverse_speed_m_s : float
        Speed in reverse, > 0. [m/s]
    shift_s : float
        Time that each change between forward and reverse adds: stopping, shifting, getting going, >= 0. [s]
    tail_m : float
        How far the tool's rear reaches behind the point it pivots about, for the swing of its corners: the rear axle of
        the tractor that carries it, or the wheels of a pulled tool, >= 0. [m]
    wheel_track_m : float, optional
        Distance between the middles of the wheels that run among the rows, > 0. [m]
    tire_m : float, optional
        Width of their tires, > 0 and less than the wheel track, which it needs beside it. [m]
    bottoms : int, optional
        Bottoms of a plow, >= 1.
    throws : {"right", "both"}, optional
        Which way a plow throws the soil: always to the right, or to whichever side it is turned over to. None for a
        tool that leaves no furrow to one side.

    Raises
    ------
    InputError
        If a value is outside its range, or rows x row spacing is not the width.
    """

    name: str
    width_m: float
    kind: str = ""
    rows: int | None = None
    row_spacing_m: float | None = None
    sections: int = 1
    lap_m: float = 0.0
    speed_m_s: float = 2.2352  # 5 mph, common practice, no source
    turn_speed_m_s: float = 1.75  # headland speed of the 2016 plow study, Mechanization in Agriculture
    turn_radius_m: float = 6.0  # common practice, no source
    pull_out_m: float = 0.0
    raise_s: float = 0.0
    lower_s: float = 0.0
    hitch: Hitch = "mounted"
    turn_radius_left_m: float | None = None
    turn_radius_right_m: float | None = None
    reverse_m: float | None = None
    reverse_speed_m_s: float = 1.0  # common practice, no source
    shift_s: float = 4.0  # common practice, no source: a second each to stop and to get going, two for the lever
    tail_m: float = 0.0
    wheel_track_m: float | None = None
    tire_m: float | None = None
    bottoms: int | None = None
    throws: Throws | None = None

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, float) and not isfinite(value):
                raise InputError(f"tool {self.name!r}: {field.name} is {value}. It must be a finite number.")
        for name in _ABOVE_ZERO:
            if getattr(self, name) is not None and getattr(self, name) <= 0:
                raise InputError(f"tool {self.name!r}: {name} is {getattr(self, name):g}. It must be above zero.")
        for name in _NOT_BELOW_ZERO:
            if getattr(self, name) is not None and getattr(self, name) < 0:
                raise InputError(f"tool {self.name!r}: {name} is {getattr(self, name):g}. It must not be below zero.")
        if not 0 <= self.lap_m < self.width_m / 2:
            raise InputError(
                f"tool {self.name!r}: lap_m is {self.lap_m:g}. It must be at least 0 and less than half the width, "
                f"{self.width_m / 2:g} m."
            )
        if self.sections < 1:
            raise InputError(f"tool {self.name!r}: sections is {self.sections}. It must be 1 or more.")
        if self.hitch not in HITCHES:
            raise InputError(f"tool {self.name!r}: hitch is {self.hitch!r}. It must be one of {', '.join(HITCHES)}.")
        self._check_plow()
        self._check_tires()
        self._check_rows()

    def _check_plow(self) -> None:
        if self.bottoms is not None and self.bottoms < 1:
            raise InputError(f"tool {self.name!r}: bottoms is {self.bottoms}. It must be 1 or more.")
        if self.throws is not None and self.throws not in THROWS:
            raise InputError(f"tool {self.name!r}: throws is {self.throws!r}. It must be one of {', '.join(THROWS)}.")

    def _check_tires(self) -> None:
        if self.tire_m is not None and not self.tire_m < (self.wheel_track_m or 0.0):
            raise InputError(
                f"tool {self.name!r}: tire_m is {self.tire_m:g}. It must be less than the wheel track, given beside it."
            )

    def _check_rows(self) -> None:
        if (self.rows is None) != (self.row_spacing_m is None):
            raise InputError(f"tool {self.name!r}: rows and row_spacing_m go together. Give both or neither.")
        if self.rows is None or self.row_spacing_m is None:
            return
        if self.rows < 1 or self.row_spacing_m <= 0:
            raise InputError(
                f"tool {self.name!r}: {self.rows} rows at {self.row_spacing_m:g} m. "
                "Rows must be 1 or more and their spacing above zero."
            )
        if abs(self.rows * self.row_spacing_m - self.width_m) > 1e-9 * self.width_m:
            raise InputError(
                f"tool {self.name!r}: width_m is {self.width_m:g}, but {self.rows} rows at {self.row_spacing_m:g} m "
                f"work {self.rows * self.row_spacing_m:g} m."
            )

    @property
    def pitch_m(self) -> float:
        """Distance between the centre lines of neighbouring passes: width less lap. [m]"""
        return self.width_m - self.lap_m

    @property
    def left_radius_m(self) -> float:
        """Least turning radius to the left. [m]"""
        return self.turn_radius_m if self.turn_radius_left_m is None else self.turn_radius_left_m

    @property
    def right_radius_m(self) -> float:
        """Least turning radius to the right. [m]"""
        return self.turn_radius_m if self.turn_radius_right_m is None else self.turn_radius_right_m

    @property
    def reverse_limit_m(self) -> float:
        """How far it can be backed in one go; infinite for a tool without such a limit. [m]"""
        if self.reverse_m is not None:
            return self.reverse_m
        return 0.0 if self.hitch == "pulled" else inf

    @property
    def can_reverse(self) -> bool:
        """Whether it can be backed at all."""
        return self.reverse_limit_m > 0

    @property
    def theoretical_m2_s(self) -> float:
        """Theoretical capacity: width x speed (ASAE EP496.2, 2003, as quoted by extension publications). [m2/s]"""
        return theoretical_capacity_m2_s(width_m=self.width_m, speed_m_s=self.speed_m_s)


def travel_speed_m_s(tool: Tool) -> float:
    """Return the speed of driving with the tool up: the greater of working and turning speed. [m/s]

    Common practice, no source.
    """
    return max(tool.speed_m_s, tool.turn_speed_m_s)


def row_width_m(rows: int, row_spacing_m: float) -> float:
    """Return the width that row units work: rows x spacing, half a row beyond each outer row. [m]

    Common practice, no source.

    Raises
    ------
    InputError
        If there is no row or the spacing is not above zero.

    Examples
    --------
    >>> round(row_width_m(23, 15 * 0.0254) / 0.3048, 2)
    28.75
    """
    if rows < 1 or not row_spacing_m > 0:
        raise InputError(
            f"rows: got {rows} at {row_spacing_m:g} m. Rows must be 1 or more and their spacing above zero."
        )
    return rows * row_spacing_m
