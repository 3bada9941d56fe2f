"""Pairs together or apart: whether the two of a pair share causes, and what that costs."""
