"""What a reading means: pure, without I/O and without a clock."""
