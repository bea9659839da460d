"""The order of version numbers as people write them."""


def version_key(text: str) -> tuple[tuple[int, str], ...]:
    """Return a sort key by which 3.9 comes before 3.10, 3.2-rc1 before 3.2, and 3.2.0 is 3.2."""
    steps = text.strip().lower().replace("-", ".").split(".")
    while steps[1:] and steps[-1].strip("0") == "":
        steps.pop()
    # the end of a version stands above any word and below any further number
    return (*((int(step), "") if step.isdecimal() else (-1, step) for step in steps), (0, ""))
