"""A second module, to try relative imports. Units: none."""

count = 0


def up():
    global count
    count += 1
    return count
