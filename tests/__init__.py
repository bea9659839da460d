"""The tests. A package of its own, because a library that they compare with also installs one of this name."""
