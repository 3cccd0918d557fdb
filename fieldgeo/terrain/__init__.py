"""The lie of the land: elevation rasters, slope along and across the passes, erosion."""
