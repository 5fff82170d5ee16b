"""The terminal: the only importer of textual, and the command line."""
