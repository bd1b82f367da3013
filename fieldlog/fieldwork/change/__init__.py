"""Is the change real? Trials, what may be compared, the errors behind it, and the verdict."""
