"""The order of a batch, its timetable, and whose turn it is."""
