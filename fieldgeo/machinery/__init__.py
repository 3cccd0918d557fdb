"""Tools, the shed file, and published figures with their sources."""

from fieldgeo.machinery.capacity import effective_capacity_m2_s, theoretical_capacity_m2_s
from fieldgeo.machinery.published import PublishedEfficiency, kinds, published_efficiency
from fieldgeo.machinery.shed import Note, Shed, read_shed
from fieldgeo.machinery.tool import Tool, row_width_m
from fieldgeo.machinery.tractor import Tractor

__all__ = [
    "Note",
    "PublishedEfficiency",
    "Shed",
    "Tool",
    "Tractor",
    "effective_capacity_m2_s",
    "kinds",
    "published_efficiency",
    "read_shed",
    "row_width_m",
    "theoretical_capacity_m2_s",
]
