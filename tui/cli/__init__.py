"""The command line; imports the heavy parts only when a command needs them."""
