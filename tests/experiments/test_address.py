"""A lab in an address: the same lab comes out, and whatever else stands there does nothing."""

from __future__ import annotations

import base64
import zlib
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.errors import ExperimentError, StoichkitError
from stoichkit.experiments.address import MOST_LETTERS, fragment_of, lab_in
from stoichkit.experiments.fields import MAX_BYTES
from stoichkit.experiments.practice_labs import practice
from stoichkit.experiments.store import parse_experiment


def packed(data: bytes) -> str:
    made = zlib.compressobj(9, zlib.DEFLATED, -15)
    return base64.urlsafe_b64encode(made.compress(data) + made.flush()).decode().rstrip("=")


@pytest.mark.parametrize("name", experiments.names())
def test_a_ready_lab_has_a_short_address_and_a_changed_one_a_whole(name: str) -> None:
    lab = experiments.load(name)
    assert fragment_of(lab, name) == f"lab={name}"
    assert lab_in(f"lab={name}") == name
    changed = parse_experiment(lab.to_toml().replace(lab.title, "Mine & yours # 2"))
    fragment = fragment_of(changed, name)
    assert lab_in(fragment) == changed
    assert fragment.startswith("file=")
    assert set(fragment) <= {*"file=-_", *map(chr, range(48, 58)), *map(chr, range(65, 91)),
                             *map(chr, range(97, 123))}  # fmt: skip
    assert len(fragment) < len(changed.to_toml())


def test_a_practice_lab_is_known_by_its_id() -> None:
    lab = practice("86CAU28").experiment
    assert fragment_of(lab) == "practice=86CAU28"
    assert lab_in("practice=86cau28") == lab


@pytest.mark.parametrize(
    "fragment",
    [
        "",
        "lab=",
        "lab=../copper-silver",
        "lab=/etc/passwd",
        "lab=no-such-lab",
        "lab=title = 'x'\nconsumed = 1",
        "practice=86CAU29",
        "practice=<script>alert(1)</script>",
        "file=",
        "file=%00%ff",
        f"file={packed(b'not a lab')}",
        f"file={packed(bytes(range(256)))}",
        f"file={packed(b' ' * (MAX_BYTES + 1))}",
        f"file={packed(b'x = 1')}AAAA",
        "&".join(f"a{i}=1" for i in range(99)),
        "file=" + "A" * MOST_LETTERS,
        "<img src=x onerror=alert(1)>",
    ],
)
def test_what_is_no_lab_is_refused(fragment: str) -> None:
    with pytest.raises(StoichkitError) as refused:
        lab_in(fragment)
    assert len(str(refused.value)) < 1500


def test_a_lab_of_as_many_bytes_as_a_file_may_have_opens() -> None:
    """Filled up with a comment to 1,000,000 bytes; one more is refused."""
    lab = experiments.load("tin-oxide")
    plain = lab.to_toml().encode() + b"#"
    whole = plain.ljust(1_000_000, b"x")
    assert lab_in(f"file={packed(whole)}") == lab
    with pytest.raises(ExperimentError, match="damaged"):
        lab_in(f"file={packed(whole + b'x')}")
    with pytest.raises(ExperimentError, match="damaged"):
        lab_in(f"file={packed(plain)}!")


def test_an_address_has_four_hundred_thousand_letters_and_four_parts_at_most() -> None:
    with pytest.raises(ExperimentError, match=r"names no lab\. Given: x{40}\.") as refused:
        lab_in("x" * 400_000)
    assert "lab=NAME" in str(refused.value)
    with pytest.raises(ExperimentError, match=r"too long\. Given: 400001 characters"):
        lab_in("x" * 400_001)
    assert lab_in("lab=tin-oxide&a=1&b=2&c=3") == "tin-oxide"
    with pytest.raises(ExperimentError, match="names no lab"):
        lab_in("lab=tin-oxide&a=1&b=2&c=3&d=4")


@given(st.text(max_size=60), st.sampled_from(["", "lab=", "practice=", "file="]))
def test_nothing_else_is_raised(text: str, start: str) -> None:
    with suppress(StoichkitError):
        lab_in(start + text)


@given(st.binary(max_size=80))
def test_bytes_that_unpack_to_anything_are_refused_as_data(data: bytes) -> None:
    with pytest.raises(StoichkitError):
        lab_in(f"file={packed(data)}")
