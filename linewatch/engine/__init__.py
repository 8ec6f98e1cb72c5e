"""The one loop: links in, the line in the middle, the journal out."""
