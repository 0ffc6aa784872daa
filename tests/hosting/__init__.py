"""Voilà, hosted notebook files, and the in-browser site."""
