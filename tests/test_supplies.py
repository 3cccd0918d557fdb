"""Seed and supplies of a season: population, packages, overlap, grain and loads."""

from math import ceil

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.analysis.lay import lay
from fieldgeo.errors import InputError
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.supplies_text import supplies_lines, supplies_notes
from fieldgeo.season.products import (
    Product,
    parse_package,
    population_m2,
    product_of,
    seed_spacing_m,
    thousandth_acre_m,
)
from fieldgeo.season.supplies import (
    GroundWorked,
    SeasonSupplies,
    grain_expected,
    ground_of,
    package_size,
    package_text,
    product_needs,
    read_load_bu,
)
from fieldgeo.season.supplies_figures import supplies_figures
from fieldgeo.units import ACRE_M2, FOOT_M, INCH_M

PLANTER = Tool(name="planter", width_m=16 * 30 * INCH_M, rows=16, row_spacing_m=30 * INCH_M)


def acres(field: str, worked: float, *, swept: float | None = None, saved: float = 0.0) -> GroundWorked:
    return GroundWorked(
        field=field, area_m2=worked * ACRE_M2, worked_m2=worked * ACRE_M2, swept_m2=(swept or worked) * ACRE_M2,
        saved_m2=saved * ACRE_M2,
    )  # fmt: skip


def seed(**values: str) -> Product:
    product = product_of({"rate": "32000seeds/ac", "package": "80000seeds/bag"} | values, default_name="corn seed")
    assert product is not None
    return product


def test_thousandth_of_an_acre_of_30_inch_row_is_17_feet_5_inches() -> None:
    """Published: Checking Corn Populations, University of Tennessee crops news, 2011: rows of 15, 20, 30 and 36 in have
    a thousandth of an acre in 34 ft 10 in, 26 ft 2 in, 17 ft 5 in and 14 ft 6 in, to the nearest inch; derived: 43.56
    sq ft over the spacing."""
    for inches, printed_in in ((15, 34 * 12 + 10), (20, 26 * 12 + 2), (30, 17 * 12 + 5), (36, 14 * 12 + 6)):
        length_m = thousandth_acre_m(inches * INCH_M)
        assert length_m / INCH_M == pytest.approx(printed_in, abs=0.5)
        assert length_m / FOOT_M == pytest.approx(43.56 / (inches / 12))


def test_population_from_rows_and_spacing() -> None:
    # derived: 43,560 x 144 = 6,272,640 sq in an acre, over 30 in x 6.534 in
    seeds_ac = ACRE_M2 * population_m2(row_spacing_m=30 * INCH_M, seed_spacing_m=6.534 * INCH_M)
    assert seeds_ac == pytest.approx(32_000)
    back = seed_spacing_m(row_spacing_m=30 * INCH_M, seeds_m2=seeds_ac / ACRE_M2)
    assert back / INCH_M == pytest.approx(6.534)
    # a thousandth of an acre holds a thousandth of the population
    assert thousandth_acre_m(30 * INCH_M) / (6.534 * INCH_M) == pytest.approx(32)
    with pytest.raises(InputError, match="spacing of seeds: got 0 m"):
        population_m2(row_spacing_m=1.0, seed_spacing_m=0.0)


def test_printed_populations_of_extension_papers() -> None:
    """Published: Planting Considerations and Stand Assessments, Penn State Extension: 17,424 ft of 30 in row an acre;
    Agronomy 212 calculations, Iowa State University, 2003: 200,000 seeds an acre in 15 in rows are 5.74 a foot, and 5 a
    foot are 174,240 an acre; Slowing planter yields bonus, Corn and Soybean Digest: 32,000 in 30 in rows lie 6.5 in
    apart."""
    assert 1000 * thousandth_acre_m(30 * INCH_M) / FOOT_M == pytest.approx(17_424)
    spacing_m = seed_spacing_m(row_spacing_m=15 * INCH_M, seeds_m2=200_000 / ACRE_M2)
    assert FOOT_M / spacing_m == pytest.approx(5.74, abs=0.005)
    seeds_ac = ACRE_M2 * population_m2(row_spacing_m=15 * INCH_M, seed_spacing_m=FOOT_M / 5)
    assert seeds_ac == pytest.approx(174_240)
    apart_m = seed_spacing_m(row_spacing_m=30 * INCH_M, seeds_m2=32_000 / ACRE_M2)
    assert apart_m / INCH_M == pytest.approx(6.5, abs=0.05)


def test_rate_from_seed_spacing_and_the_rows_of_the_tool() -> None:
    product = product_of({"seed_spacing": "6.534in"}, default_name="corn", tool=PLANTER)
    assert product is not None
    assert product.rate.kind == "seeds"
    assert product.rate.value * ACRE_M2 == pytest.approx(32_000)
    drill = Tool(name="drill", width_m=6.0)
    with pytest.raises(InputError, match="the tool has no rows"):
        product_of({"seed_spacing": "6in"}, default_name="corn", tool=drill)
    with pytest.raises(InputError, match="given beside rate"):
        product_of({"seed_spacing": "6in", "rate": "1bu/ac"}, default_name="corn", tool=PLANTER)


def test_bags_of_seed_with_overlap_by_hand() -> None:
    # derived: 80 ac worked, 84 swept: 84 x 32,000 = 2,688,000 seeds, 33.6 bags, so 34 and 32,000 seeds over;
    # once over 80 ac: 2,560,000 seeds, 32 bags to the seed, as in the planter refill of 32 units that does 80 ac
    (need,) = product_needs([("plant", seed(), [acres("Home", 80, swept=84)])])
    assert need.amount == pytest.approx(2_688_000)
    assert need.once == pytest.approx(2_560_000)
    assert (need.packages, round(need.left)) == (34, 32_000)
    (flat,) = product_needs([("plant", seed(), [acres("Home", 80)])])
    assert flat.packages == 32
    assert flat.left == pytest.approx(0, abs=1e-3)
    assert package_text(need) == "34 bags of 80,000 seeds"


def test_what_shut_offs_save_is_not_bought() -> None:
    # derived: 84 swept less 3 saved = 81 ac: 2,592,000 seeds, 32.4 bags
    (need,) = product_needs([("plant", seed(), [acres("Home", 80, swept=84, saved=3)])])
    assert need.amount == pytest.approx(2_592_000)
    assert need.packages == 33


def test_allowance_and_stock_by_hand() -> None:
    # derived: 32 bags + 5 % = 33.6; 3 bags there: 30.6, so 31 to buy; 31 + 3 - 32 = 2 bags over
    (need,) = product_needs([("plant", seed(allowance="5%", on_hand="3bags"), [acres("Home", 80)])])
    assert need.packages == 31
    assert need.left == pytest.approx(160_000)
    (rich,) = product_needs([("plant", seed(on_hand="40bags"), [acres("Home", 80)])])
    assert rich.packages == 0
    assert rich.left == pytest.approx(8 * 80_000)


def test_products_of_one_name_are_bought_together() -> None:
    # derived: 1 ac takes 0.4 bag; apart each of two fields would round up
    asked = [("plant", seed(), [acres("Home", 1)]), ("replant", seed(), [acres("Hill", 1)])]
    (need,) = product_needs(asked)
    assert need.packages == 1
    assert [each.ground.field for each in need.needs] == ["Home", "Hill"]
    with pytest.raises(InputError, match="corn seed: bought in different ways by plant, replant"):
        product_needs([asked[0], ("replant", seed(package="40000seeds/bag"), [acres("Hill", 1)])])


def test_bushels_into_bags_by_the_weight_of_a_bushel() -> None:
    # derived: 1 bu/ac of soybeans is 60 lb/ac: 50 ac take 3,000 lb, 60 bags of 50 lb
    product = product_of({"rate": "1bu/ac", "holds": "soybeans", "package": "50lb/bag"}, default_name="bean seed")
    assert product is not None
    (need,) = product_needs([("drill", product, [acres("Home", 50)])])
    assert need.packages == 60
    with pytest.raises(InputError, match="do not go together"):
        product_of({"rate": "1bu/ac", "package": "50lb/bag"}, default_name="bean seed")


@pytest.mark.parametrize(
    ("rate", "package", "said"),
    [
        ("20gal/ac", "265gal/tote", "4 totes of 265 gal"),  # derived: 1,000 gal, 3.8 totes
        ("200lb/ac", "ton", "5 ton"),  # derived: 10,000 lb
        ("2bags/ac", "bag", None),
        ("1.5bu/ac", "bu", "75 bu"),
        ("20gal/ac", "2.5gal/box", "400 boxes of 2.5 gal"),
    ],
)
def test_units_bought(rate: str, package: str, said: str | None) -> None:
    if said is None:
        with pytest.raises(InputError, match="must be what is in one of what"):
            parse_package(package)
        return
    product = product_of({"rate": rate, "package": package}, default_name="it")
    assert product is not None
    (need,) = product_needs([("spread", product, [acres("Home", 50)])])
    assert package_text(need) == said


def test_without_a_package_whole_units_are_bought() -> None:
    # derived: 20 gal/ac on 50.01 ac is 1,000.2 gal
    product = product_of({"rate": "20gal/ac"}, default_name="starter")
    assert product is not None
    (need,) = product_needs([("spray", product, [acres("Home", 50.01)])])
    assert package_text(need) == "1,001 gal"
    assert need.left / package_size(product) == pytest.approx(0.8)


def test_faults_of_a_product_are_told_together() -> None:
    with pytest.raises(InputError) as error:
        product_of({"rate": "-1bu/ac", "package": "many", "allowance": "80%"}, default_name="it")
    assert all(f"{key}: got" in str(error.value) for key in ("rate", "package", "allowance"))
    with pytest.raises(InputError, match="must be text of 1 to"):
        product_of({"rate": 3}, default_name="it")
    with pytest.raises(InputError, match="rate: missing"):
        product_of({"package": "80000seeds/bag"}, default_name="it")
    assert product_of({}, default_name="it") is None
    with pytest.raises(InputError, match="no more is saved than is swept"):
        acres("Home", 10, saved=11)


def test_grain_and_loads_by_hand() -> None:
    # derived: 80 ac worked x 180 bu = 14,400 bu whatever is swept: 16 loads of 900 bu
    (grain,) = grain_expected("combine", "corn", 180 / ACRE_M2, [acres("Home", 80, swept=95)])
    assert grain.amount_bu == pytest.approx(14_400)
    assert grain.loads == 16
    (small,) = grain_expected("combine", "corn", 180 / ACRE_M2, [acres("Home", 80)], load_bu=400)
    assert small.loads == 36
    assert read_load_bu("400 bu") == 400
    with pytest.raises(InputError, match="must be in bushels"):
        read_load_bu("20t")
    with pytest.raises(InputError, match="numbers above zero"):
        grain_expected("combine", "corn", 0.0, [])


@given(st.floats(0.01, 5000), st.floats(1, 1.3), st.floats(0, 0.5), st.floats(0.1, 500))
def test_what_is_bought_is_enough_and_not_a_package_too_many(
    worked: float, lap: float, allowance: float, size: float
) -> None:
    product = product_of(
        {"rate": "3gal/ac", "package": f"{size:.6f}gal/tote", "allowance": f"{100 * allowance:.4f}%"},
        default_name="it",
    )
    assert product is not None
    (need,) = product_needs([("spray", product, [acres("Home", worked, swept=worked * lap)])])
    wanted = need.amount * (1 + product.allowance)
    assert need.bought >= wanted * (1 - 1e-6)
    assert need.packages <= ceil(wanted / package_size(product) + 1e-6)
    assert need.left == pytest.approx(need.bought - need.amount, abs=1e-6 * need.bought + 1e-9)


def test_seed_of_a_laid_field_is_swaths_times_rate() -> None:
    plan = lay(field_from_shape(shapely.box(0, 0, 400, 300)), PLANTER, direction_deg=0.0)
    ground = ground_of("Home", plan.coverage)
    (need,) = product_needs([("plant", seed(), [ground])])
    assert need.amount == pytest.approx(plan.coverage.swept_m2 / ACRE_M2 * 32_000)
    assert need.amount > need.once


def test_answer_in_words_and_in_figures() -> None:
    need = product_needs([("plant", seed(allowance="2%"), [acres("Home", 80, swept=84), acres("Hill", 20)])])
    grain = grain_expected("combine", "corn", 180 / ACRE_M2, [acres("Home", 80), acres("Hill", 20)])
    supplies = SeasonSupplies(products=need, grain=grain, load_bu=900.0)
    figures = supplies_figures(supplies)
    lines = list(supplies_lines(figures))
    # derived: 104 ac x 0.4 bag = 41.6, and 2 % = 42.43
    assert "  corn seed: buy 43 bags of 80,000 seeds" in lines
    # derived: 84 ac x 0.4 bag
    assert any(line.split() == ["Home", "80.0", "ac", "2,688,000", "seeds", "33.6", "bag"] for line in lines)
    assert any("4.0 % more than with nothing worked twice" in line for line in lines)
    assert lines[-1].split() == ["2", "fields", "corn", "100.0", "ac", "18,000", "bu", "20"]
    assert max(map(len, lines)) <= 80
    assert "a load of 900 bu is assumed" in next(supplies_notes(figures))
    product = figures["products"][0]
    assert product["packages"] == 43
    assert product["bought"] == {"seeds": 43 * 80_000}
    assert product["fields"][0]["amount"]["seeds"] == pytest.approx(84 * 32_000)
    # published: a bushel of corn is 56 lb: 18,000 bu are 457,221 kg (derived)
    (total,) = figures["grain_total"]
    assert (total["crop"], total["fields"], total["loads"]) == ("corn", 2, 20)
    assert total["bu"] == pytest.approx(18_000)
    assert total["kg"] == pytest.approx(18_000 * 56 * 0.45359237)
