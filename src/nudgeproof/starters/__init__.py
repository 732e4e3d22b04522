"""Starter specs, one for each habit that many devices have, as data files.

The first line of each is a comment that says what it is; the last one says which line to change to what to see it break.
"""
