"""The page without a server: all screens as plain files, with Python in the reader's browser.

``build`` writes the files, ``kernel`` is what runs behind the page in a web worker.
"""
