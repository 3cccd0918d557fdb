"""Turns between passes, the order of the work, and the time line."""
