"""Foods as they are written down: what makes them safe, by a table or by a germ's own numbers."""

from pathlib import Path

from noonpot.core.lethality import MILK, POULTRY, TABLES, Curve
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods

FOODS = read_foods(supplied("foods.toml"))


def test_every_food_of_the_list_that_can_make_ill_names_its_table() -> None:
    tables = {name: food.lethality for name, food in FOODS.items() if food.hazardous}
    text = supplied("foods.toml").read_text(encoding="utf-8")
    named = {
        section.split("]")[0]: section.split('lethality = "')[1].split('"')[0]
        for section in text.split("[food.")[1:]
        if 'lethality = "' in section
    }
    assert tables == {name: TABLES[table] for name, table in named.items()}
    assert FOODS["chicken"].lethality is POULTRY


def test_water_and_what_turns_sour_by_itself_alone_do_not_spoil() -> None:
    assert {name for name, food in FOODS.items() if not food.spoils} == {"water", "yoghurt"}


def test_every_common_food_is_there() -> None:
    common = (
        *("bread", "enriched-bread", "casserole", "stew", "soup", "rice", "beans", "potatoes"),
        *(
            "roots",
            "eggs",
            "chicken",
            "turkey",
            "roast",
            "fish",
            "cake",
            "fruit",
            "yoghurt",
            "water",
        ),
    )
    assert set(common) <= set(FOODS)


def test_beans_warn_of_their_poison() -> None:
    assert all("boil" in FOODS[name].caution for name in ("beans", "kidney-beans"))


def test_yoghurt_is_no_way_to_keep_milk_warm() -> None:
    yoghurt = FOODS["yoghurt"]
    assert not yoghurt.hazardous
    assert "below 48 °C" in yoghurt.caution
    assert FOODS["milk"].hazardous
    assert FOODS["milk"].lethality is MILK


def test_each_table_is_explained_at_the_top_of_the_list() -> None:
    top = supplied("foods.toml").read_text(encoding="utf-8").split("[food.")[0]
    assert all(f'#   "{name}"' in top for name in TABLES)


def test_a_food_of_ones_own_may_bring_the_numbers_of_its_germ(tmp_path: Path) -> None:
    file = tmp_path / "foods.toml"
    file.write_text(
        "[food.pheasant]\ntarget_c = 75\nsafe_c = 70\n"
        "lethality = { d_min = 0.34, ref_c = 70, z_k = 7.5, log = 6 }\n"
        'source = "my own experience"\n'
        '[food.duck]\ntarget_c = 80\nsafe_c = 74\nsource = "my own experience"\n',
        encoding="utf-8",
    )
    foods = read_foods(file)
    assert foods["pheasant"].lethality == Curve(d_min=0.34, ref_c=70.0, z_k=7.5, log=6.0)
    assert foods["duck"].lethality is POULTRY
