"""The whole watch without I/O: what to make of a reading, a tick or a command. Pure."""
