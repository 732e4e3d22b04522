"""Firmware under test: from observations of a real device to verdicts on it. No files and no screens here."""
