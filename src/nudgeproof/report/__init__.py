"""Results as text, JSON and pictures."""
