"""screens."""
