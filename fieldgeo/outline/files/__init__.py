"""Files of polygons: every open format, one shape of answer."""
