"""Curved passes on a field: laid, driven, measured, and set beside the straight layout."""
