"""Timings against other ways of reaching the same numbers; run by hand, no test fails on them."""
