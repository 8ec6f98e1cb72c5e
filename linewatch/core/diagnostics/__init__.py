"""diagnostics."""
