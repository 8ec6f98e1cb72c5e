"""history."""
