"""fieldlog: a keyboard-driven terminal logbook for mobile strength-testing teams."""

__version__ = "0.1.0"
