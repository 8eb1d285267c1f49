"""What holds for every test: a property is tried however busy the machine is, for a clock proves nothing about it."""

from hypothesis import settings

settings.register_profile("without a clock", deadline=None)
settings.load_profile("without a clock")
