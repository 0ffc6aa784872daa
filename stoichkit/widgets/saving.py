"""Where an experiment file is written, from the name as typed."""

from __future__ import annotations

from pathlib import Path

from ..errors import ExperimentError

__all__ = ["target_path"]


def target_path(text: str) -> Path:
    """Return the full name of the file that a typed name means.

    Parameters
    ----------
    text : str
        Name or path as typed; ``~`` is the home folder, and ``.toml`` is added to a name without
        a suffix.

    Raises
    ------
    ExperimentError
        If it cannot name a file.

    Examples
    --------
    >>> target_path(" my lab ").name
    'my lab.toml'
    """
    plain = text.strip()
    allowed = "a name such as my-lab.toml"
    if not plain or plain[-1] in "/\\" or Path(plain).name in ("", "..") or "\0" in plain:
        raise ExperimentError("This does not name a file.", given=plain or None, allowed=allowed)
    try:
        path = Path(plain).expanduser()
        path = path if path.suffix else path.with_name(f"{path.name}.toml")
        return path.resolve()
    except (OSError, RuntimeError, ValueError) as error:
        raise ExperimentError(
            f"This cannot be the name of a file: {error}.", given=plain, allowed=allowed
        ) from error
