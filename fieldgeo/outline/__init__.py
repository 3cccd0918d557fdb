"""An outline comes in: read from a file, checked, mended in the open, measured."""

from fieldgeo.outline.field import Change, Field
from fieldgeo.outline.read import read_outline, read_outlines

__all__ = ["Change", "Field", "read_outline", "read_outlines"]
