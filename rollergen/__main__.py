"""``python -m rollergen``."""

from rollergen.cli import run

run()
