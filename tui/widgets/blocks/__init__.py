"""Parts of the figures: each draws itself in more or fewer rows."""
