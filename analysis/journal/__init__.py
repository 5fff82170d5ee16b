"""The durable record of what happened: one SQLite file, one writer, everything confirmed is kept."""
