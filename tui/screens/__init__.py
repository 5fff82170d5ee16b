"""Whole screens."""
