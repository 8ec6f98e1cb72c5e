"""The shift's check sheet: what is read at each position, and what only people see. Pure."""
