"""What a receiver says of its own fix: the quality of NMEA 0183 GGA, its trust, and the error that goes with it.

The numbers are those of GGA field 6 (NMEA 0183; several receiver manuals agree): 0 invalid, 1 GPS, 2 differential,
3 PPS, 4 RTK fixed, 5 RTK float, 6 dead reckoning, 7 manual, 8 simulator. Bigger is not better: float (5) is poorer than
fixed (4), and 6 to 8 are no measurements.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from fieldgeo.frame import FloatArray

UNKNOWN: Final = -1  # the file says nothing of the quality
VOID: Final = 0

LEAST_QUALITIES: Final = ("gps", "differential", "float", "fixed")  # poorest first
_NAMES: Final = {UNKNOWN: "unknown", 1: "gps", 2: "differential", 3: "PPS", 4: "fixed", 5: "float"}
# Trust, not number: fixed > float > differential = PPS > gps. A file that says nothing is taken as plain GPS.
_RANKS: Final = {UNKNOWN: 0, 1: 0, 2: 1, 3: 1, 5: 2, 4: 3}
# Standard error along each axis: common practice, no source. HDOP is a factor without a unit and no measure of it.
_ACCURACIES_M: Final = {UNKNOWN: 4.0, 1: 3.0, 2: 1.0, 3: 1.0, 5: 0.3, 4: 0.02}

# What columns and GPX files call a fix. GPX 1.1 has no word for RTK: such a walk looks like 3d or dgps.
_WORDS: Final = {
    "none": 0, "invalid": 0, "no fix": 0, "void": 0, "2d": 1, "3d": 1, "gps": 1, "gnss": 1, "single": 1,
    "autonomous": 1, "dgps": 2, "differential": 2, "dgnss": 2, "sbas": 2, "pps": 3, "rtk": 4, "rtk fixed": 4,
    "fixed": 4, "fix": 4, "rtk float": 5, "float": 5, "estimated": 6, "dead reckoning": 6, "manual": 7,
    "simulator": 8, "simulation": 8,
}  # fmt: skip


@lru_cache(maxsize=256)
def quality_of_word(text: str) -> int | None:
    """Return the GGA quality that a word or a number stands for; None when it stands for none.

    Parameters
    ----------
    text : str
        Such as ``"4"``, ``"3d"``, ``"RTK float"`` or ``""``, which is `UNKNOWN`.

    Examples
    --------
    >>> quality_of_word("RTK float"), quality_of_word("dgps"), quality_of_word("")
    (5, 2, -1)
    """
    word = " ".join(text.lower().replace("_", " ").replace("-", " ").split())
    if not word:
        return UNKNOWN
    if word.isascii() and word.isdigit() and len(word) == 1:
        return int(word)
    return _WORDS.get(word)


def quality_name(quality: int) -> str:
    """Return the name of a quality, for a person.

    Parameters
    ----------
    quality : int
        GGA quality of a fix that is kept, or `UNKNOWN`.
    """
    return _NAMES.get(quality, f"quality {quality}")


def is_measured(quality: npt.NDArray[np.int8]) -> npt.NDArray[np.bool_]:
    """Return which fixes are measurements: not void, dead reckoning, manual, simulated or of a number unknown.

    Parameters
    ----------
    quality : ndarray of shape (N,)
        GGA quality, or `UNKNOWN`.
    """
    return np.isin(quality, list(_RANKS))


def is_trusted(quality: npt.NDArray[np.int8], least: str) -> npt.NDArray[np.bool_]:
    """Return which measured fixes are at least as good as a named quality.

    Parameters
    ----------
    quality : ndarray of shape (N,)
        GGA quality, or `UNKNOWN`.
    least : str
        One of `LEAST_QUALITIES`.
    """
    rank = LEAST_QUALITIES.index(least)
    return np.isin(quality, [quality for quality, its_rank in _RANKS.items() if its_rank >= rank])


def accuracies_m(quality: npt.NDArray[np.int8]) -> FloatArray:
    """Return the usual standard error along each axis of fixes: common practice, no source. [m]

    Parameters
    ----------
    quality : ndarray of shape (N,)
        GGA quality of measured fixes, or `UNKNOWN`.
    """
    errors_m = np.full(len(quality), _ACCURACIES_M[UNKNOWN])
    for value, accuracy_m in _ACCURACIES_M.items():
        errors_m[quality == value] = accuracy_m
    return errors_m
