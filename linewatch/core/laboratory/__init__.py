"""What the laboratory finds: analyses, and whether a bath is under control. Pure."""
