"""What leaves the works: limits, the day's record, the month's margin. Pure."""
