"""Files: what the guard remembers, and what it says of itself."""
