"""A second, naive reading of the rules, and what plays the tool against it."""
