"""Views: each fills a body between the same bands, and remembers what was chosen."""
