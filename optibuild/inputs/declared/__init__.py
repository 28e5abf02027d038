"""What is said once of every column, key and kind of problem."""
