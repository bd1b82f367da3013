"""The test suite; a package so that ``python -m tests.…`` finds the simulation and the builder of the sample."""
