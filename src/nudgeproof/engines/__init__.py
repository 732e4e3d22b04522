"""Engines that answer questions about a model; none knows a hazard by name."""
