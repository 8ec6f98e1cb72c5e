"""engine."""
