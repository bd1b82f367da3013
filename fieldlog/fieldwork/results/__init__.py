"""Sets and what counts of them, with cover and quality; what a failed check touches and what was decided."""
