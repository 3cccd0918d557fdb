"""``python -m fieldgeo`` is the command ``fieldgeo``."""

from fieldgeo.cli import main

main(prog_name="fieldgeo")
