"""Where an experiment file is written, from the name as typed, and whether it may be."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from ..errors import ExperimentError

__all__ = ["free_target", "suggested_path", "target_path"]


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


def free_target(path: str, own: Collection[Path], *, replace_file: bool) -> Path:
    """Return the full name of a file that may be written.

    Parameters
    ----------
    path : str
        As typed, see :func:`target_path`.
    own : collection of pathlib.Path
        Files that may be replaced, because they were written from here.
    replace_file : bool
        Whether any file may be replaced.

    Raises
    ------
    ExperimentError
        If the file exists and may not be replaced.
    """
    target = target_path(path)
    if target.exists() and target not in own and not replace_file:
        raise ExperimentError(
            "A file of this name exists already; it was not changed.",
            path=str(target),
            fix="Choose another name, or tick that the file may be replaced.",
        )
    return target


def suggested_path(name: str) -> str:
    """Return a name for an experiment file that no ready experiment has.

    >>> suggested_path("tin-oxide"), suggested_path("my-lab.toml"), suggested_path("")
    ('my-tin-oxide.toml', 'my-lab.toml', 'my-experiment.toml')
    """
    stem = Path(name).stem or "experiment"
    return f"{stem}.toml" if stem.startswith("my-") else f"my-{stem}.toml"
