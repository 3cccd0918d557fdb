"""The picture of several sources laid over each other: everything on the page, told apart without colour."""

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from matplotlib.figure import Figure
from PIL import Image

from fieldgeo.analysis.agree import agree
from fieldgeo.errors import FileError, InputError
from fieldgeo.outline.evidence import Evidence
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.overlay_map import plot_overlay, save_overlay

SQUARE = shapely.box(-200, -200, 200, 200)


def field(shape, *, name="home", kind="file", uncertainty_m2=None, is_placed=True):
    evidence = Evidence(kind=kind, area_uncertainty_m2=uncertainty_m2, is_placed=is_placed)
    return replace(field_from_shape(shape, name=name), evidence=evidence)


def agreement(*shapes, **changed):
    return agree([field(shape, **changed) for shape in shapes])


TWO = agree([field(SQUARE, uncertainty_m2=800.0), field(shapely.box(-200, -200, 200, 220), kind="walk")])
POND = agreement(SQUARE, shapely.difference(SQUARE, shapely.Point(40, 50).buffer(30)))
STRIP = agreement(shapely.box(-900, -20, 900, 20), shapely.box(-900, -20, 880, 26))
SIX = agreement(*(SQUARE.buffer(4 * number, join_style="mitre") for number in range(6)))
ALL = {"two": TWO, "pond": POND, "strip": STRIP, "six": SIX, "same": agreement(SQUARE, SQUARE, SQUARE)}


def legend(axes):
    return [text.get_text() for text in axes.get_legend().get_texts()]


def texts(axes):
    return [text.get_text() for text in axes.texts]


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("is_small", [False, True])
def test_nothing_runs_off_the_page_and_no_word_lies_on_another(name, is_small):
    ax = Figure(figsize=(3.4, 4.2)).add_axes((0.05, 0.35, 0.9, 0.5)) if is_small else None
    axes = plot_overlay(ALL[name], ax=ax)
    axes.figure.canvas.draw()
    assert axes.get_aspect() == 1.0
    page = axes.figure.bbox
    boxes = {text.get_text(): text.get_window_extent() for text in axes.texts}
    for word, box in boxes.items():
        if not (is_small and "sources" in word):  # the title is as wide as it is
            assert page.x0 <= box.x0 < box.x1 <= page.x1, word
            assert page.y0 <= box.y0 < box.y1 <= page.y1, word
    letters = [boxes[outline.letter] for outline in ALL[name].sources]
    for number, box in enumerate(letters):
        assert not any(box.overlaps(other) for other in letters[number + 1 :])
        if not is_small:
            assert not any(box.overlaps(other) for word, other in boxes.items() if "wide" in word)


def test_legend_names_every_source_with_its_area_and_the_ground_they_differ_on():
    assert legend(plot_overlay(TWO)) == [
        "A  39.54 ac ± 0.20, file: home",
        "B  41.51 ac, walk: home",
        "not in all of them: 1.98 ac (0.80 ha)",
    ]


def test_outlines_are_told_apart_in_black_and_white():
    lines = [line for line in plot_overlay(SIX).get_legend().get_lines() if line.get_label()]
    looks = {
        (
            line.get_linewidth(),
            str(line.get_linestyle()),
            str(line._unscaled_dash_pattern),
            bool(line.get_path_effects()),
        )
        for line in lines
    }
    assert len(lines) == len(looks) == 6
    assert {line.get_color() for line in lines} == {"#000000"}


def test_largest_patch_of_the_worst_pair_is_pointed_at():
    axes = plot_overlay(
        agree([*(field(shape) for shape in (SQUARE, SQUARE)), field(shapely.box(-200, -200, 200, 230))])
    )
    (label,) = [text for text in axes.texts if "wide" in text.get_text()]
    assert label.get_text() == "C, not A: 2.97 ac\n98 ft (30 m) wide"
    assert label.xy == pytest.approx((0, 215), abs=1e-6)
    assert not [text for text in plot_overlay(ALL["same"]).texts if "wide" in text.get_text()]


def test_hatched_ground_is_what_not_all_sources_have():
    axes = plot_overlay(agreement(SQUARE, shapely.box(-200, -200, 200, 220), shapely.box(-210, -200, 200, 200)))
    (patch,) = [patch for patch in axes.patches if patch.get_hatch()]
    # Derived: 400 x 20 north and 10 x 400 west.
    assert "not in all of them: 2.97 ac (1.20 ha)" in legend(axes)
    low, high = patch.get_path().vertices.min(axis=0), patch.get_path().vertices.max(axis=0)
    assert (*low, *high) == pytest.approx((-210, -200, 200, 220))


def test_sources_without_a_place_are_named_not_drawn():
    sources = [field(SQUARE), field(SQUARE, kind="deed", is_placed=False), field(SQUARE.buffer(5))]
    axes = plot_overlay(agree(sources))
    assert "not drawn, without a place on Earth: B 39.54 ac" in texts(axes)
    assert [label[0] for label in legend(axes)] == ["A", "C", "n"]
    assert len(legend(plot_overlay(agree(sources[:2])))) == 1
    with pytest.raises(InputError, match="no source has a place"):
        plot_overlay(agree([sources[1], sources[1]]))


def test_title_is_the_name_where_all_have_the_same():
    assert "home" in texts(plot_overlay(TWO))
    assert "One field, several sources" in texts(plot_overlay(agree([field(SQUARE), field(SQUARE, name="walk")])))


@pytest.mark.parametrize("name", ["$x^2$", "a\nb\x1b", "<b>&", "\u05d0\u05d1 forty", "x" * 300])
def test_any_name_can_be_drawn(name, tmp_path):
    path = tmp_path / "any.svg"
    save_overlay(agreement(SQUARE, SQUARE, name=name), path)
    assert ElementTree.parse(path).getroot().tag.endswith("svg")


def test_files_are_whole_the_same_again_and_not_over_others(tmp_path):
    for suffix in (".svg", ".png", ".pdf"):
        first, second = tmp_path / f"first{suffix}", tmp_path / f"second{suffix}"
        save_overlay(POND, first)
        save_overlay(POND, second)
        assert first.read_bytes() == second.read_bytes()
        with pytest.raises(FileError, match="exists"):
            save_overlay(POND, first)
        save_overlay(POND, first, force=True)
    with Image.open(tmp_path / "first.png") as image:
        assert image.width == 1600
        assert np.asarray(image.convert("L")).std() > 5
    with pytest.raises(InputError, match=r"\.svg, \.png, \.pdf"):
        save_overlay(POND, tmp_path / "first.bmp")
