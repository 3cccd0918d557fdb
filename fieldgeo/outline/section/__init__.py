"""Parts of a section of the US Public Land Survey, from its corners."""
