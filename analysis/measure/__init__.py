"""From a frame to a reading and a view. Pure."""
