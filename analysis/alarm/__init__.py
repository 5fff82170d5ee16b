"""Limits, delays and states; takes the time as an argument. Pure."""
