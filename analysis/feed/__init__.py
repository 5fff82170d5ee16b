"""Where pictures come from."""
