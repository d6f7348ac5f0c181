"""`rates.csv`: what a row may price, and every fault with its row."""

from __future__ import annotations

import hashlib
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

from fencegis.catalogue import rows
from fencegis.errors import InputError
from fencegis.inputs.priced_things import priced_things, thing_meant
from fencegis.inputs.rates_file import MOST_DECIMALS, RatesRead, read_rates
from fencegis.inputs.site_folder import read_site
from fencegis.records.rates import KINDS, Rate, rate_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

HEAD = "item,unit,rate,kind,waste_pct,pack,note,part,taxed\n"


def read(tmp_path: Path, text: str) -> RatesRead:
    path = tmp_path / "rates.csv"
    path.write_bytes(text.encode())
    return read_rates(path)


def test_a_row_of_each_kind(tmp_path: Path) -> None:
    text = (
        HEAD
        + "post 125 x 1.80,each,9.5,material,4,10,own yard,,\n"
        + "hour,h,50,labour,,,,,\n"
        + '"line posts, Clay",each,8,output,,,,,\n'
        + "machine,day,300,hire,,,,,no\n"
        + "travel,km,1.1,travel,,,,,\n"
        + "rock hole,each,80,charge,,,,measured,\n"
        + "tax,%,10,percent,,,,,\n"
    )
    done = read(tmp_path, text)
    assert done.problems == ()
    assert [rate.kind for rate in done.rates] == [kind for kind in KINDS]  # noqa: C416 (in this order)
    post, _, output, machine, _, rock, _ = done.rates
    assert post == Rate(
        "post 125 x 1.8", "each", Decimal("9.5"), "material", Decimal(4), Decimal(10), "own yard", None, True, 2
    )
    assert (output.item, output.activity, output.soil) == ("line posts, clay", "line posts", "clay")
    assert (machine.taxed, rock.part) == (False, "measured")


def test_the_four_columns_are_enough_and_semicolons_bring_decimal_commas(tmp_path: Path) -> None:
    (rate,) = read(tmp_path, "item;unit;rate;kind\nwire;m;0,25;material\n").rates
    assert (rate.rate, rate.waste_pct, rate.pack, rate.taxed) == (Decimal("0.25"), None, None, True)


def test_a_rate_may_be_by_another_unit_of_the_same_kind_or_by_the_pack(tmp_path: Path) -> None:
    rows_ = ("wire,ft,0.1,material", "staple,pack,20,material", "rail,m,5,material", "clearing,ha,1000,charge")
    assert read(tmp_path, "\n".join(["item,unit,rate,kind", *rows_])).problems == ()


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("posst,each,9,material", "row 2: there is no material “posst”. Fix: the nearest known one is post."),
        ("line post,each,9,labour", "there is no labour “line post”. Fix: the nearest known one is line posts."),
        ("wire 2,5,m,9,material", "it has 5 cells"),
        ("margn,%,9,percent", "there is no percent “margn”. Fix: the nearest known one is margin."),
        ("post on hand,each,9,material", "there is no material “post on hand”."),
        ('"line posts, snad",each,9,labour', "there is no soil “snad”. Fix: the nearest known one is sand."),
        ('"wire, clay",m,9,material', "a soil (“clay”) is for labour and output, and this is of kind material."),
        ("wire,m,9,materials", "there is no kind “materials”. Fix: the nearest known one is material;"),
        ("wire,m,9,", "row 2: kind is empty."),
        ("wire,metre,9,material", "there is no unit “metre”."),
        ("wire,,9,material", "row 2: unit is empty."),
        ("wire,kg,9,material", "a rate of wire is not by the kg. Fix: give it by m or pack."),
        ("travel,h,9,travel", "a rate of travel is not by the h. Fix: give it by km or mi or each."),
        ("tax,each,9,percent", "a rate of tax is not by the each."),
        (",m,9,material", "row 2: item is empty."),
        ("wire,m,,material", "rate is empty. Fix: fill it in, or delete the row: what has no rate is not priced."),
        ("wire,m,0,material", "rate is 0; it must be more than 0"),
        ("wire,m,-3,material", "rate is -3; it must be more than 0"),
        ("wire,m,nan,material", "rate “nan” is not a number."),
        ("wire,m,$5,material", "rate “$5” is not a number. Fix: write digits and a decimal point alone"),
        ("wire,m,=1+1,material", "rate holds a formula (“=1+1”)."),
        ("=cmd|' /C calc'!A0,m,1,material", "item holds a formula"),
        ("wire,m,1e9,material", "rate “1e9” is not a number."),
        ("wire,m,99999999,material", "at most 10000000"),
        ("wire,m,0.12345,material", f"rate 0.12345 has more than {MOST_DECIMALS} decimals."),
        ("tax,%,301,percent", "rate is 301; it must be more than 0 and at most 300."),
    ],
)
def test_every_fault_says_where_and_what(tmp_path: Path, row: str, said: str) -> None:
    (problem,) = read(tmp_path, "item,unit,rate,kind\n" + row + "\n").problems
    assert said in str(problem), str(problem)
    assert str(problem).startswith("rates.csv, row 2: ")


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("wire,m,1,material,,0,,,", "pack is 0; it must be more than 0"),
        ("wire,m,1,material,-1,,,,", "waste_pct is -1; it must be at least 0 and at most 100."),
        ("hour,h,1,labour,,5,,,", "pack is for a material, and this is of kind labour."),
        ("wire,m,1,material,,,,excluded,", "there is no part “excluded”."),
        ("wire,m,1,material,,,,,maybe", "there is no taxed “maybe”."),
        ("wire,m,1,material,,,,,\nwire,m,2,material,,,,,", "row 3: wire has a material rate in row 2 as well."),
    ],
)
def test_faults_of_the_columns_that_may_be_there(tmp_path: Path, row: str, said: str) -> None:
    (problem,) = read(tmp_path, HEAD + row + "\n").problems
    assert said in str(problem), str(problem)


def test_all_faults_at_once(tmp_path: Path) -> None:
    assert len(read(tmp_path, "item,unit,rate,kind\nwir,m,x,material\nhour,h,0,labour\n").problems) == 3


def test_the_heading_names_the_column_meant(tmp_path: Path) -> None:
    (problem,) = read(tmp_path, "item,unit,price,kind\nwire,m,1,material\n").problems
    assert "the nearest known one is rate." in str(problem)


def test_what_can_be_priced_is_what_the_catalogues_hold() -> None:
    for row in rows("materials"):
        assert (row["material"] in priced_things("material")) == (row["supplier"] != "on hand")
    for row in rows("activities"):
        assert row["activity"] in priced_things("labour")
    for row in rows("charges"):
        assert row["item"] in priced_things(row["kind"])  # type: ignore[arg-type]
    for row in rows("services"):
        assert row["material"] in priced_things("charge")
        assert all(name.strip() in priced_things("labour") for name in row["activities"].split(";") if name.strip())


def test_the_longest_name_is_meant_and_its_size_is_written_as_the_plan_does() -> None:
    assert thing_meant("brace post 127 x 2.440", "material") == (priced_things("material")["brace post"],
                                                                "brace post 127 x 2.44")  # fmt: skip
    assert thing_meant("post oak", "material") is None
    assert thing_meant("clearing dense", "charge") is not None


def test_the_rate_of_a_soil_goes_before_the_general_one() -> None:
    rates = [
        Rate("line posts", "each", Decimal(9), "labour"),
        Rate("line posts, clay", "each", Decimal(12), "labour"),
        Rate("line posts, clay", "each", Decimal(4), "output"),
    ]
    assert rate_of(rates, "line posts", "labour", soil="clay") == rates[1]
    assert rate_of(rates, "line posts", "labour", soil="sand") == rates[0]
    assert rate_of(rates, "line posts", "output", soil="sand") is None
    assert rate_of(rates, "line posts", "labour") == rates[0]
    assert rate_of(None, "line posts", "labour") is None


def test_the_site_has_the_rates_and_the_files_hash(make_site: Callable[..., Path]) -> None:
    text = "item,unit,rate,kind\nhour,h,50,labour\n"
    site = read_site(make_site(rates_csv=text))
    assert site.rates is not None
    assert site.rates[0].rate == 50
    assert site.inputs["rates.csv"]["sha256"] == hashlib.sha256(text.encode()).hexdigest()
    assert site.unread == ()
    assert read_site(make_site("other")).rates is None


def test_a_fault_of_it_stops_the_site(make_site: Callable[..., Path]) -> None:
    with pytest.raises(InputError, match="rate is 0"):
        read_site(make_site(rates_csv="item,unit,rate,kind\nhour,h,0,labour\n"))
