"""The pytest plugin, run by pytest itself on small projects."""
