"""Hidden defects, found by following proposals: how often right, in how many minutes."""
