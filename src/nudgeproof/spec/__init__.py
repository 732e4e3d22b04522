"""Reading a spec: from the text a maker wrote to a typed `Device`, or to all that must be mended in it."""
