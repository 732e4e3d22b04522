"""Faults to plant in what verdicts rest on, beside the engine's core (see `tests.quality.part_mutants`)."""
