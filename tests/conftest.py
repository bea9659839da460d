"""What all tests share: Hypothesis without a clock, because a busy machine is no fault of the code.

In CI every run draws the same examples, so that a change is judged by itself; elsewhere each run draws new ones.
"""

import os

from hypothesis import settings

settings.register_profile("house", deadline=None, print_blob=True, derandomize="CI" in os.environ)
settings.load_profile("house")
