"""What tests in Python are given: a board to press by hand, specs and recordings judged."""
