"""stopkeeper's analysis: everything but the terminal, usable as a library."""
