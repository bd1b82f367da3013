"""Rig checks: typing or reading one, judging it, and the references and tolerances it is judged by."""
