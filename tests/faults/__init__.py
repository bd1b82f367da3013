"""Crashes, failing disks, killed processes, flipped bits and wrong clocks against the store."""
