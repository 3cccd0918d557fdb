"""Coverage, capacity, the search for a direction, and the comparison of tools."""
