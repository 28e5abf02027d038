"""What rows and tables must agree on, and what looks mistyped."""
