"""The commands of ``python -m stoichkit``: their options, and what each does.

A module a kind of command; each has ``add_parsers``. Imports stand inside the functions: a
command waits for nothing that it does not need.
"""

__all__: list[str] = []
