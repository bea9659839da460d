"""What all tests share: Hypothesis without a clock, because a busy machine is no fault of the code."""

from hypothesis import settings

settings.register_profile("house", deadline=None, print_blob=True)
settings.load_profile("house")
