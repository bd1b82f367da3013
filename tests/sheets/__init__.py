"""Pages, plots and exports, read back with readers that fieldlog does not use itself."""
