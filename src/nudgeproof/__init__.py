"""nudgeproof: a button and power state-machine verifier for wake, sleep and brown-out behaviour."""

__version__ = "0.1.0"
