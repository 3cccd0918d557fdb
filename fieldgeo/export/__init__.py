"""Layouts and fields written to open file formats."""
