"""A compliance status in words, one source for page and paper, and the paper itself."""
