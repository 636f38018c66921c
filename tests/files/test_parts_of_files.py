"""One part of a file for a body, a piece of the torch or a link: none of the others is lost."""

import re

import numpy as np
import pytest

from pathsim import check, load_cell, save_cell
from pathsim.findings import Level
from pathsim.findings.kinds import FindingKind
from tests.cli.test_mesh import stand_in
from tests.files.test_cell_folder import faults, shop
from tests.mesh_files.step_text import several, step
from tests.mesh_files.test_more_formats import BOX, object_of, three_mf

__all__ = ["shop"]
FOLDER, CELL = "gate_hinge", "gate_hinge/cell.yaml"
PARTS = three_mf(
    object_of(BOX, 1, "base plate") + object_of(BOX, 2, "post") + object_of(BOX, 3, "post"),
    '<item objectid="1"/><item objectid="2"/>'
    '<item objectid="3" transform="1 0 0 0 1 0 0 0 1 0 0 500"/>',
)
BODY = "{{name: {}, role: other, mesh: jig.3mf, {}at: 840 -900 720 mm}}"


def notes(cell):
    return [f.text for f in check(cell).findings if f.kind is FindingKind.PARTS_LEFT_OUT]


def test_a_body_is_one_part_and_the_check_says_what_became_of_the_others(shop):
    (shop / FOLDER / "jig.3mf").write_bytes(PARTS)
    stand_in(shop, BODY.format("base", "part: base plate, "))
    cell = load_cell(shop / FOLDER)
    assert np.ptp(cell.body("base").mesh.bounds, axis=0) == pytest.approx([0.12, 0.06, 0.02])
    result = check(cell)
    [note] = [f for f in result.findings if f.kind is FindingKind.PARTS_LEFT_OUT]
    assert note.text == (
        "jig.3mf: part 'base plate' is base. 'post', 'post 2' are in no body and not checked. Give "
        "them a body, or name them under 'left out' in cell.yaml."
    )
    # The posts may be in the way: nobody said that they are not there.
    assert note.level is Level.WATCH and not result.is_clear
    left = [(item.what, item.is_agreed) for item in result.left_out if "part '" in item.what]
    assert left == [
        ("part 'post' of gate_hinge/jig.3mf", False),
        ("part 'post 2' of gate_hinge/jig.3mf", False),
    ]
    stand_in(shop, BODY.format("posts", "part: [post, post 2], "))
    assert notes(load_cell(shop / FOLDER)) == [
        "jig.3mf: part 'base plate' is base; part 'post' is posts; part 'post 2' is posts. All of "
        "its parts are used."
    ]
    stand_in(shop, BODY.format("all of it", ""))
    assert "part 'post' is" in notes(load_cell(shop / FOLDER))[0]
    assert "posts" in notes(load_cell(shop / FOLDER))[0]


def meant(shop, text):
    """Say in the cell which parts are left out on purpose."""
    file = shop / CELL
    file.write_text(f"{file.read_text('utf-8')}\n{text}\n", "utf-8")


def test_parts_that_are_left_out_on_purpose_are_said_and_do_not_stand_in_the_way(shop):
    (shop / FOLDER / "jig.3mf").write_bytes(PARTS)
    stand_in(shop, BODY.format("base", "part: base plate, "))
    meant(shop, "left out: {jig.3mf: [post]}")
    [watch] = [f for f in check(load_cell(shop / FOLDER)).findings
               if f.kind is FindingKind.PARTS_LEFT_OUT]  # fmt: skip
    assert watch.level is Level.WATCH and "'post 2' is in no body" in watch.text
    assert "Left out, as the cell says, and not checked: 'post'." in watch.text
    file = shop / CELL
    file.write_text(file.read_text("utf-8").replace("[post]", "[post, post 2]"), "utf-8")
    cell = load_cell(shop / FOLDER)
    result = check(cell)
    [note] = [f for f in result.findings if f.kind is FindingKind.PARTS_LEFT_OUT]
    assert note.level is Level.NOTE and result.is_clear
    left = [(i.what, i.why) for i in result.left_out if "part '" in i.what]
    assert [what for what, _ in left] == [f"part '{one}' of {FOLDER}/jig.3mf"
                                          for one in ("post", "post 2")]  # fmt: skip
    assert {why for _, why in left} == {"left out, as the cell says"}
    save_cell(cell, shop / "saved")
    again = load_cell(shop / "saved")
    assert again.assemblies == cell.assemblies and notes(again) == notes(cell)


@pytest.mark.parametrize(
    ("said", "came", "cure"),
    [
        ("{jigg.3mf: [post]}", "no file of which parts are used is called 'jigg.3mf'", "jig.3mf"),
        ("{jig.3mf: [pots]}", "'jig.3mf' has no part 'pots'", "Did you mean 'post'?"),
        ("{jig.3mf: [base plate]}", "part 'base plate' is base", "take the body out"),
    ],
)
def test_what_is_said_to_be_left_out_has_to_be_there_and_in_no_body(shop, said, came, cure):
    (shop / FOLDER / "jig.3mf").write_bytes(PARTS)
    stand_in(shop, BODY.format("base", "part: base plate, "))
    meant(shop, f"left out: {said}")
    [fault] = faults(shop)
    assert came in fault.came and cure in fault.cure and fault.line


def test_a_file_that_is_used_as_a_whole_says_nothing(shop):
    (shop / FOLDER / "jig.3mf").write_bytes(PARTS)
    stand_in(shop, BODY.format("jig", ""))
    cell = load_cell(shop / FOLDER)
    assert cell.assemblies == () and notes(cell) == []
    assert len(cell.body("jig").mesh.faces) == 36


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("part: Post, ", "'jig.3mf' has no part 'Post'"),
        ("part: [post, post], ", "came a part twice"),
        ("part: [], ", "part"),
    ],
)
def test_a_wrong_part_is_one_message_with_the_names_that_are_there(shop, more, says):
    (shop / FOLDER / "jig.3mf").write_bytes(PARTS)
    stand_in(shop, BODY.format("base", more))
    [fault] = faults(shop)
    assert says in f"{fault.key} {fault.came}"
    if "Post" in more:
        assert "'base plate', 'post', 'post 2'" in fault.expected
        assert fault.cure == "Did you mean 'post'?" and fault.line


def test_a_part_of_what_has_none_is_a_fault(shop):
    stand_in(shop, "{name: x, role: other, mesh: clamp.stl, unit: mm, part: y, at: 0 0 0 mm}")
    stand_in(shop, "{name: z, role: other, box: {length: 1 m, width: 1 m, height: 1 m}, part: y, "
                   "at: 0 0 0 mm}")  # fmt: skip
    came = " ".join(fault.came for fault in faults(shop))
    assert "keeps no parts apart" in came or "'part' with a shape" in came


def test_what_was_left_out_is_known_of_a_saved_cell_too(shop):
    (shop / FOLDER / "jig.3mf").write_bytes(PARTS)
    stand_in(shop, BODY.format("base", "part: base plate, "))
    cell = load_cell(shop / FOLDER)
    save_cell(cell, shop / "saved")
    again = load_cell(shop / "saved")
    assert again.assemblies == cell.assemblies
    assert notes(again) == notes(cell)


@pytest.fixture
def step_shop(shop):
    """The shop with a torch whose body, and an arm whose link 3, are parts of STEP files."""
    pytest.importorskip("cascadio", reason="the extra 'step' is not installed")
    torch = shop / "shop_arm/torch.yaml"
    text, count = re.subn(
        r"\n  - \{name: nozzle[^}]*\}", "\n  - {name: nozzle, mesh: torch.step, part: nozzle}",
        torch.read_text("utf-8"),
    )  # fmt: skip
    assert count == 1
    torch.write_text(text, "utf-8")
    raw = several([("bar", (8.0, 60.0), "nozzle"), ("block", (5, 5, 5), "spare nut")])
    (shop / "shop_arm/torch.step").write_bytes(raw)
    arm = shop / "shop_arm/arm.yaml"
    text, count = re.subn(
        r"(- \{link: 3, )mesh: [^,}]*", r"\1mesh: forearm.step", arm.read_text("utf-8")
    )
    assert count == 1
    arm.write_text(text, "utf-8")
    (shop / "shop_arm/forearm.step").write_bytes(step("bar", (30.0, 200.0)))
    return shop


def test_a_torch_and_a_link_of_step_widen_every_margin_by_how_they_are_cut(step_shop):
    cell = load_cell(step_shop / FOLDER)
    nozzle = next(piece for piece in cell.torch.pieces if piece.name == "nozzle")
    assert nozzle.drawn_to == pytest.approx(1e-4)
    assert np.ptp(nozzle.mesh.bounds, axis=0)[2] == pytest.approx(0.06)
    assert cell.links_drawn_to == pytest.approx((0, 0, 0, 1e-4, 0, 0, 0))
    rows = check(cell).clearances
    air = (rows["zone"] == "air") & (rows["of"] == "scene")
    for name, off in (("nozzle", 1e-4), ("link 3", 1e-4), ("link 4", 0.0)):
        of_it = air & (rows["piece"] == name) & (rows["body"] == "table")
        assert of_it.any()
        assert rows["margin"][of_it] == pytest.approx(cell.margins.air + off)
    own = rows["of"] == "own"
    both = own & (rows["piece"] == "nozzle") & (rows["body"] == "link 3")
    one = own & (rows["piece"] == "nozzle") & (rows["body"] == "link 2")
    assert both.any() and one.any()
    assert rows["margin"][both] == pytest.approx(2e-3 + 2e-4)
    assert rows["margin"][one] == pytest.approx(2e-3 + 1e-4)
    found = " ".join(f.text for f in check(cell).findings)
    assert "link 3, nozzle: drawn to 0.1 mm. Every margin to them is 0.1 mm wider." in found
    assert "torch.step: part 'nozzle' is nozzle. 'spare nut' is in no body" in found


def test_what_is_known_of_step_in_torch_and_arm_is_saved_with_them(step_shop):
    cell = load_cell(step_shop / FOLDER)
    save_cell(cell, step_shop / "saved")
    again = load_cell(step_shop / "saved")
    assert again.links_drawn_to == cell.links_drawn_to
    assert [p.drawn_to for p in again.torch.pieces] == [p.drawn_to for p in cell.torch.pieces]
