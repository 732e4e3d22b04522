"""A firmware measured with no spec: situations, gestures, times, and a spec to begin with. No files and no screens here."""
