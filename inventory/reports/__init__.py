"""Reports on what the studio has and does; each puts itself on the list when it is imported."""
