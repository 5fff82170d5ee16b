"""Configuration: schema, defaults, loading."""
