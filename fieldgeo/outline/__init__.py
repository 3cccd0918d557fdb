"""An outline comes in: read from a file, checked, mended in the open, measured."""

from fieldgeo.outline.field import Change, Field
from fieldgeo.outline.measure import Measures, measure
from fieldgeo.outline.read import read_outline, read_outlines

__all__ = ["Change", "Field", "Measures", "measure", "read_outline", "read_outlines"]
