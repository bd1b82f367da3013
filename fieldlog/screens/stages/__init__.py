"""The five stages of a day: what each shows and what enter does there."""
