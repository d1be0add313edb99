"""Report."""
