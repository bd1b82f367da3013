"""A squad's measures side by side and over the season; planned retests."""
