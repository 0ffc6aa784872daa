"""Cells, fan and rays: corners by hand, nothing told of the verdict."""

from __future__ import annotations

import pytest

from stoichkit import assess, experiments
from stoichkit.errors import ModelError
from stoichkit.plots import CellsPicture, svg


def test_two_candidates_part_where_no_ray_crosses_the_cell_of_the_other() -> None:
    """2.00 mmol Cu read to 0.01 g: ± 0.01 g / 63.546 = 0.157 mmol; Ag ± 0.01 / 107.87 = 0.093."""
    lab = experiments.load("copper-silver")
    fine = CellsPicture.planned(lab, consumed_mol=0.002, step_g=0.01)
    assert [tuple(round(v, 3) for v in min(cell)) for cell in fine.cells] == [
        (1.843, 1.907), (1.843, 3.907),
    ]  # fmt: skip
    assert fine.parted
    assert not CellsPicture.planned(lab, consumed_mol=0.002, step_g=0.1).parted


@pytest.mark.parametrize("name", experiments.names())
def test_a_picture_of_readings_tells_no_verdict(name: str) -> None:
    evidence = assess(experiments.load(name))
    picture = CellsPicture.of(evidence)
    assert len({(ray.compatible, ray.judged) for ray in picture.rays}) == 1
    drawn = svg(picture)
    for word in ("ingled", "xcluded", "compatible"):
        assert word not in drawn + picture.alt_text
    bare = CellsPicture.of(evidence, fan=False, rays=False)
    assert (bare.fan, bare.rays) == (None, ())


def test_nothing_weighed_is_no_picture_of_a_plan() -> None:
    lab = experiments.load("copper-silver")
    with pytest.raises(ModelError):
        CellsPicture.planned(lab, consumed_mol=0.0)
