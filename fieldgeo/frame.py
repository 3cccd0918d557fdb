"""The frame: the local metric plane of one field."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Equal-area plane centred on one field."""

    lon_deg: float  # longitude of the centre, WGS 84 [deg]
    lat_deg: float  # latitude of the centre, WGS 84 [deg]
