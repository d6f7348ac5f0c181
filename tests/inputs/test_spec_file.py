from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from fencegis.inputs import spec_file
from fencegis.inputs.spec_file import read_spec
from fencegis.records.spec import Spec

ROOT = Path(__file__).parents[2]


def faults(tmp_path: Path, text: str | bytes) -> list[str]:
    path = tmp_path / "site.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    read = read_spec(path)
    assert (read.spec is None) == bool(read.problems)
    return [str(problem) for problem in read.problems]


def test_every_key_may_be_left_out(tmp_path: Path):
    assert faults(tmp_path, "# nothing\n") == []
    assert faults(tmp_path, "") == []
    assert read_spec(tmp_path / "site.toml").spec == Spec()


def test_no_file_is_all_defaults_and_a_note(tmp_path: Path):
    read = read_spec(tmp_path / "site.toml")
    assert read.spec == Spec()
    assert [note.severity for note in read.notes] == ["default"]
    assert "site.toml" in read.notes[0].text


def test_values_arrive(tmp_path: Path):
    text = 'name = "Top road"\ndate = 2026-03-01\n[fence]\nkind = "post and rail"\nrail_m = [4.8, 3]\npost_mm = 150\n'
    assert faults(tmp_path, text) == []
    read = read_spec(tmp_path / "site.toml")
    assert read.spec
    assert read.spec.name == "Top road"
    assert str(read.spec.date) == "2026-03-01"
    assert read.spec.fence.rail_m == (4.8, 3.0)
    assert read.spec.fence.post_mm == 150.0
    assert read.source
    assert read.source.size_bytes == len(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[fence]\nstrian_m = 3", 'there is no key "strian_m" here. Fix: the nearest known key is strain_m.'),
        ("strain_m = 3", "move it to [fence]"),
        ("[fence]\nname = 'x'", "move it to the top of the file"),
        ("[zzz]\na = 1", "take it out; known here: name, date, boundary"),
        ("fence = 3", "fence is 3, which is not a table of keys"),
        ("[fence]\nkind = 'stone wall'", 'kind is "stone wall", which is not one of "wire" or "post and rail"'),
        ("[fence]\nkerf_mm = '4'", 'kerf_mm is "4", which is not a number'),
        ("[fence]\nrails = 2.5", "rails is 2.5, which is not a whole number"),
        ("[fence]\nrails = 99", "rails is 99; it must be at most 8"),
        ("[fence]\nstrain_m = 0", "strain_m is 0; it must be more than 0"),
        ("[fence]\nstrain_m = nan", "strain_m is nan, which is not a finite number"),
        ("[fence]\nrail_m = 4.8", "rail_m is 4.8, which is not a list of numbers"),
        ("[fence]\nrail_m = []", "rail_m is empty"),
        ("[fence]\nrail_m = [4.8, 'x']", 'rail_m is "x", which is not a number'),
        ("[fence]\nrail_bays = true", "rail_bays is true, which is not 1 or 2"),
        ("[fence]\ngap_min_m = 0.5", "gap_min_m (0.5) is more than gap_max_m (0.45)"),
        ("[fence]\nbarbed = 7", "barbed (7) is more than wires (6), which counts all of them"),
        ('[fence]\nbrace = "H brace"', 'there is no brace "H brace". Fix: the nearest is "H-brace"'),
        ("[map]\nonline = 'yes'", 'online is "yes", which is not true or false'),
        ("date = '2026-03-01'", "which is not a day without quotes"),
        ("date = 2026-03-01T07:00:00", "which is not a day without quotes"),
        ("[fence]\nkind = 'post and rail'", "[fence] rail_m: a post and rail fence needs rail_m"),
        ("[rules]\nbends = 'item607'", 'there is no rule set "item607". Fix: the nearest is "item-607"'),
        ("[string]\ncord = 'cord 1.4 mm'", 'there is no cord "cord 1.4 mm". Fix: the nearest is "cord 1.5 mm"; known:'),
        ("[string]\ntension_n = 0", "tension_n is 0; it must be more than 0"),
        ("[sight]\nclear_m = 1.8", "clear_m (1.8) is not below eye_m (1.6) and pole_m (2)"),
        ("[handheld]\nkind = '6 lettrs'", 'no kind of handheld "6 lettrs". Fix: the nearest is "6 letters"; known:'),
        ("[machine]\nkind = 'excavater'", 'no kind of machine "excavater". Fix: the nearest is "excavator"; known:'),
        ("[rules]\napproach = 'my own'", '[rules] approach: there is no rule set "my own". Fix: known:'),
        ("name = \n", "it is not TOML: Invalid value (at line 1, column 8)"),
        ("name = 'a'\nname = 'b'", "it is not TOML: Cannot overwrite a value"),
        ("a = " + "9" * 9999, "it is not TOML"),
        ("a = " + "[" * 100_000, "nested too deeply"),
        (b"\xef\xbb\xbfname = 'x'", "begins with a byte order mark"),
        ("name = 'x'".encode("utf-16"), "it is UTF-16, not UTF-8"),
        (b"a = 1\nname = 'caf\xe9'", "line 2 is not UTF-8 text"),
    ],
)
def test_a_fault_says_what_and_what_mends_it(tmp_path: Path, text: str | bytes, said: str):
    (fault,) = faults(tmp_path, text)
    assert fault.startswith("site.toml")
    assert said in fault
    assert "\n" not in fault


def test_all_faults_come_together(tmp_path: Path):
    told = faults(tmp_path, "[fence]\nrails = 'x'\nwires = 99\nknid = 'wire'\n[machine]\nreach_m = -1\n")
    assert len(told) == 4


@pytest.mark.parametrize("name", ["nsw-2006", "osha-1926-1408", "qld", "wa-2022"])
def test_the_approach_rule_sets_are_known(tmp_path: Path, name: str):
    assert faults(tmp_path, f"[rules]\napproach = '{name}'") == []


@pytest.mark.parametrize("name", ["item-607", "iowa-2519", "caltrans-80-2"])
def test_the_bend_rule_sets_are_known(tmp_path: Path, name: str):
    assert faults(tmp_path, f"[rules]\nbends = '{name}'") == []


def test_a_rule_table_is_read_only_when_a_rule_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def refuse(name: str) -> None:
        raise AssertionError(name)

    monkeypatch.setattr(spec_file.catalogue, "rows", refuse)
    assert faults(tmp_path, "[fence]\nrails = 3") == []


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path):
    (tmp_path / "secret").write_text("name = 'x'")
    site = tmp_path / "site"
    site.mkdir()
    (site / "site.toml").symlink_to(tmp_path / "secret")
    (problem,) = read_spec(site / "site.toml").problems
    assert "a link that leaves the site folder" in problem.fault


def test_a_fault_in_the_specification_loads_no_heavy_library(tmp_path: Path):
    path = tmp_path / "site.toml"
    path.write_text("[fence]\nrail = 3\n")
    heavy = {"geopandas", "rasterio", "folium", "matplotlib", "scipy", "pandas", "shapely"}
    code = (
        "import sys; from pathlib import Path; from fencegis.inputs.spec_file import read_spec; "
        f"assert read_spec(Path({str(path)!r})).problems; print(sorted({heavy!r} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"
