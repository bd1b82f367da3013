"""Places and visits: arriving, the day as it stands, and what is left to finish."""
