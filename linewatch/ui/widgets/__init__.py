"""Widgets: they are told; they never ask, compute or wait."""
