"""widgets."""
