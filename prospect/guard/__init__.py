"""Looks at a foreign file before any geo library does: magic, sizes, archives, limits."""
