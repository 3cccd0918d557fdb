"""Geometry of the work: headland rounds and parallel passes on one field for one tool."""
