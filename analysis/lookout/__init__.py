"""Looks out for the sitters beside the measuring, on a thread of its own."""
