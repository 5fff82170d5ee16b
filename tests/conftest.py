"""What holds for every test: no example is held against the clock, for the machine may be slow and shared."""

from hypothesis import settings

settings.register_profile("stopkeeper", deadline=None)
settings.load_profile("stopkeeper")
