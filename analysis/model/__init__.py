"""The frozen values that travel through the program."""
