"""The page without a server: all screens as plain files, with Python in the reader's browser.

``build`` writes the files, ``kernel`` is what runs behind the page in a web worker.
``rehearse.mjs`` writes the memory of a Python that has given a first answer, ``memory.js`` takes
it over.
"""
