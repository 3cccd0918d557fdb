"""An outline comes in: read from a file, checked, mended in the open, measured."""
