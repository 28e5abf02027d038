"""A case back to files, and the case to begin from."""
