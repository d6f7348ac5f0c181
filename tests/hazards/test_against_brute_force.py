"""The measured distances against a plain twin that tries everything: `conductor_scenes.py` says what of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from types import ModuleType


@pytest.mark.parametrize("margins", [False, True], ids=["as given", "with allowances"])
@pytest.mark.parametrize("seed", range(24))
def test_agrees_with_trying_everything(seed: int, margins: bool, conductor_scenes: ModuleType) -> None:
    one, level = conductor_scenes.scene(seed, margins=margins), conductor_scenes.ground_of(seed)
    found = conductor_scenes.compared(one, level, conductor_scenes.hazards_of(one, level))
    assert (found.missed, found.wrong, found.off) == (0, 0, 0)


def test_the_scenes_hold_something_to_agree_on(conductor_scenes: ModuleType) -> None:
    least, handled = [], 0
    for seed in range(8):
        one, level = conductor_scenes.scene(seed, margins=True), conductor_scenes.ground_of(seed)
        sweep = {"height_m": one.working_height_m, "reach_m": one.reach_m}
        least.append(conductor_scenes.twin(one, level, **sweep)[2].min())
        hazards = conductor_scenes.hazards_of(one, level)
        handled += hazards["basis"].str.startswith("nearer than the machine").any()
        assert conductor_scenes.compared(one, level, hazards).near > 0
    assert min(least) < 0.5
    assert max(least) > 0.9
    assert 0 < handled < 8


def test_a_flag_left_out_is_missed_and_one_too_many_is_wrong(conductor_scenes: ModuleType) -> None:
    one, level = conductor_scenes.scene(0, margins=False), conductor_scenes.ground_of(0)
    hazards = conductor_scenes.hazards_of(one, level)
    assert conductor_scenes.compared(one, level, hazards.iloc[:0]).missed > 0
    assert conductor_scenes.compared(one, level, hazards.assign(clearance_m=hazards["clearance_m"] + 0.05)).off > 0


@pytest.mark.parametrize("seed", range(24))
def test_limbs_agree_with_trying_everything(seed: int, limb_scenes: ModuleType, conductor_scenes: ModuleType) -> None:
    one, level = limb_scenes.scene(seed), conductor_scenes.ground_of(seed)
    _, missed, wrong = limb_scenes.compared(one, level, limb_scenes.hazards_of(one, level))
    assert (missed, wrong) == (0, 0)


@pytest.mark.parametrize("seed", range(40))
def test_services_and_keep_outs_agree_with_trying_everything(seed: int, kept_scenes: ModuleType) -> None:
    one = kept_scenes.scene(seed)
    _, missed, wrong = kept_scenes.compared(one, kept_scenes.hazards_of(one))
    assert (missed, wrong) == (0, 0)


def test_scenes_of_each_kind_hold_something(
    limb_scenes: ModuleType, kept_scenes: ModuleType, slope_scenes: ModuleType, conductor_scenes: ModuleType
) -> None:
    limbs = [(limb_scenes.scene(seed), conductor_scenes.ground_of(seed)) for seed in range(12)]
    assert sum(limb_scenes.compared(*one, limb_scenes.hazards_of(*one))[0] > 0 for one in limbs) >= 4
    kept = [kept_scenes.scene(seed) for seed in range(12)]
    assert sum(kept_scenes.compared(one, kept_scenes.hazards_of(one))[0] > 0 for one in kept) > 4
    slopes = [slope_scenes.scene(seed) for seed in range(12)]
    near = [slope_scenes.compared(one, slope_scenes.hazards_of(one)).near for one in slopes]
    assert min(near) < max(near)
