"""`python -m nudgeproof`."""

from nudgeproof.cli import run

run()
