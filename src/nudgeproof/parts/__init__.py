"""The device and its surroundings as parts, compiled from a spec."""
