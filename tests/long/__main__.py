"""Run the tests with full counts and pass any options on to pytest."""

from __future__ import annotations

import os
import sys

import pytest

os.environ["FIELDLOG_LONG"] = "1"
sys.exit(pytest.main(["-q", *sys.argv[1:]]))
