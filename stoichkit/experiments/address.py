"""A lab in what stands after ``#`` in an address, which a browser sends to no server.

``lab=tin-oxide`` names a ready lab, ``practice=86CAU28`` a practice lab, and ``file=…`` holds a
whole experiment file, deflated and written in the letters that an address may have.
"""

from __future__ import annotations

import base64
import binascii
import zlib
from urllib.parse import parse_qsl

from ..errors import ExperimentError
from ..uncertainty import entry
from .fields import MAX_BYTES
from .practice_labs import checked_id, practice, practice_of
from .record import Experiment
from .store import parse_experiment

MOST_LETTERS = 400_000
"""Longest fragment that is read."""
_ALLOWED = "lab=NAME of a ready lab, practice=ID of a practice lab, or file=… copied from this page"
_FIX = "Copy the link again, whole."


def fragment_of(experiment: Experiment, name: str = "") -> str:
    """Return what stands after ``#`` in an address that opens a lab.

    Parameters
    ----------
    experiment : Experiment
    name : str, optional
        Name of the ready lab that it may be.

    Returns
    -------
    str
        The shortest of the three ways that holds the whole record.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = experiments.load("tin-oxide")
    >>> fragment_of(lab, "tin-oxide"), fragment_of(practice("86CAU28").experiment)
    ('lab=tin-oxide', 'practice=86CAU28')
    >>> lab_in(fragment_of(lab)) == lab
    True
    """
    from . import load, names

    lab = entry.record("experiment", experiment, Experiment, error=ExperimentError)
    if name in names() and load(name) == lab:
        return f"lab={name}"
    known = practice_of(lab)
    if known is not None and known.experiment == lab:
        return f"practice={known.id}"
    packed = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    data = packed.compress(lab.to_toml().encode()) + packed.flush()
    return f"file={base64.urlsafe_b64encode(data).decode().rstrip('=')}"


def lab_in(fragment: str) -> Experiment | str:
    """Return the lab that a fragment opens: the name of a ready one, or a record.

    Parameters
    ----------
    fragment : str
        What stands after ``#``, at most 400,000 characters. What it holds is read as data only.

    Returns
    -------
    Experiment or str

    Raises
    ------
    ExperimentError
        If it names no lab, or holds no experiment file of at most 1,000,000 bytes.

    Examples
    --------
    >>> lab_in("lab=tin-oxide"), lab_in("practice=86cau28").title[:20]
    ('tin-oxide', 'Practice lab 86CAU28')
    >>> lab_in("file=AAAA")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: The lab in this address is damaged. Allowed: lab=NAME of a
    ready lab, practice=ID of a practice lab, or file=… copied from this page. Copy the link again,
    whole.
    """
    from . import read

    text = entry.text("fragment", fragment, error=ExperimentError)
    if len(text) > MOST_LETTERS:
        raise ExperimentError(
            "This address is too long.",
            given=f"{len(text)} characters",
            allowed=f"up to {MOST_LETTERS}",
        )
    try:
        given = dict(parse_qsl(text, keep_blank_values=True, max_num_fields=4))
    except ValueError:
        given = {}
    if "lab" in given:
        read(given["lab"])  # refuses what is no ready lab
        return given["lab"]
    if "practice" in given:
        return practice(checked_id(given["practice"])).experiment
    if "file" in given:
        return parse_experiment(_unpacked(given["file"]), "the lab in this address")
    raise ExperimentError("This address names no lab.", given=text[:40], allowed=_ALLOWED, fix=_FIX)


def _unpacked(text: str) -> str:
    """Return the text that was packed; no more is unpacked than an experiment file may have."""
    try:
        data = base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
        unpack = zlib.decompressobj(-zlib.MAX_WBITS)
        found = unpack.decompress(data, MAX_BYTES + 1)
        if len(found) <= MAX_BYTES and unpack.eof and not unpack.unused_data:
            return found.decode("utf-8")
    except (binascii.Error, zlib.error, ValueError):
        pass
    raise ExperimentError("The lab in this address is damaged.", allowed=_ALLOWED, fix=_FIX)
