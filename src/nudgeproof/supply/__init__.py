"""What the supply does: cells under load, the brown-out reset, hold-up, charge, the life of a memory.

Pure functions over quantities with units (`nudgeproof.quantities`). Where something is compared, the comparison is exact, in
fractions; where a logarithm is needed, the result is a band that surely holds the true value. What depends on tolerances is
a band too: `lo` and `hi` are what the worst and the best specimen give.

One picture holds for all of it: cells (an open-circuit voltage behind a resistance, both of which change as the cells are
used up), a capacitor across them, a regulator or none, and behind that the *rail* that feeds the processor and its loads.
"""
