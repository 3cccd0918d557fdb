"""fieldgeo: lay a field out for a tool, and see what is left of the acres an hour."""
