"""electrochemistry."""
