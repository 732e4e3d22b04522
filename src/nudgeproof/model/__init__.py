"""Tables of parts and the one step relation that composes them."""
