"""Drawings: from a picture to rows of marked text. Pure; no widget, no clock, no colour."""
