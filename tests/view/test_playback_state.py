"""The state that keys, clicks and time change."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.view.playback_state import HELP, Player, kept, opened

KEYS = ["space", "s", "Left", "Right", "Home", "End", "n", "p", "1", "2", "3", "4", "question",
        "Escape", "x", "F5", "f", "l", "Up", "Down", "e", "comma", "period", "m",
        "r"]  # fmt: skip
PLAYER = Player(10.0, (4.0, None, 7.5))


def test_opens_on_the_gravest_finding_that_has_a_moment():
    player = opened(10.0, (None, 3.0, 1.0))
    assert (player.finding, player.time, player.camera) == (1, 3.0, "finding")
    assert not player.playing
    clear = opened(10.0, ())
    assert (clear.finding, clear.time, clear.camera) == (None, 0.0, "1")


def test_time_passes_only_while_playing_and_at_quarter_speed_when_asked():
    assert PLAYER.tick(1.0) == PLAYER
    playing = PLAYER.key("space")
    assert playing.tick(2.0).time == pytest.approx(2.0)
    assert playing.key("s").tick(2.0).time == pytest.approx(0.5)
    done = playing.tick(99.0)
    assert (done.time, done.playing) == (10.0, False)
    again = done.key("space")
    assert (again.time, again.playing) == (0.0, True)


def test_arrows_step_and_stay_inside():
    assert PLAYER.key("Right").time == pytest.approx(0.1)
    assert PLAYER.key("Right", shift=True).time == pytest.approx(1.0)
    assert PLAYER.key("Left").time == 0.0
    assert PLAYER.key("End").key("Right").time == 10.0


def test_next_and_previous_go_round_all_findings():
    player, seen = PLAYER, []
    for _ in range(4):
        player = player.key("n")
        seen.append((player.finding, player.time))
    assert seen == [(0, 4.0), (1, 4.0), (2, 7.5), (0, 4.0)]
    assert PLAYER.key("p").finding == 2
    assert Player(5.0, ()).key("n") == Player(5.0, ())


def test_choosing_one_that_is_not_there_changes_nothing():
    assert PLAYER.choose(9) == PLAYER


def test_cameras_and_help():
    assert PLAYER.key("3").camera == "3"
    assert PLAYER.turned_by_hand().camera == "free"
    shown = PLAYER.key("question")
    assert shown.help_shown and not shown.key("Escape").help_shown
    assert PLAYER.key("slash", shift=True).help_shown
    assert PLAYER.key("q").closed


@given(st.lists(st.sampled_from(KEYS), max_size=40), st.floats(0, 3))
def test_no_keys_lead_out_of_the_program(keys, seconds):
    player = PLAYER
    for key in keys:
        player = player.key(key).tick(seconds)
        assert 0.0 <= player.time <= player.duration
        assert player.finding is None or 0 <= player.finding < 3
        assert not player.closed


def test_after_a_new_check_time_and_camera_stay():
    before = PLAYER.choose(2)
    after = kept(before, 6.0, (1.0,), None)
    assert (after.time, after.duration, after.finding) == (6.0, 6.0, None)
    assert after.camera == "free"  # the picture does not jump
    assert kept(PLAYER.key("2"), 20.0, (), None).camera == "2"
    assert kept(before, 20.0, (1.0, 7.5), 1).finding == 1  # it moved up in the list


def test_every_key_that_acts_is_listed_once():
    listed = " ".join(key for key, _ in HELP).replace(",", " ").split()
    for key in ("space", "s", "f", "l", "left", "home", "up", "n", "p", "w", "e",
                "d", "h", "i", "m", "x", "F2", "F11", "r", "?",
                "esc", "q", "+", "-", "1", "4"):  # fmt: skip
        assert listed.count(key) == 1, key


def test_quick_play_goes_round_its_speeds():
    player = PLAYER.key("space")
    speeds = []
    for _ in range(4):
        player = player.key("f")
        speeds.append(player.speed)
    assert speeds == [2.0, 5.0, 10.0, 1.0]
    assert PLAYER.key("f").key("space").tick(1.5).time == pytest.approx(3.0)


def test_a_loop_stays_round_its_finding():
    player = PLAYER.choose(0).key("l").key("space")
    for _ in range(60):
        player = player.tick(0.1)
        assert 3.0 - 1e-9 <= player.time <= 4.6 and player.playing
    assert player.key("l").tick(99).time == 10.0


def test_up_and_down_go_from_point_to_point():
    player = Player(10.0, (), points=(0.0, 2.0, 7.0, 10.0), time=3.0)
    assert player.key("Down").time == 7.0 and player.key("Up").time == 2.0
    assert player.key("Down").key("Down").key("Down").time == 10.0
    assert player.key("Up").key("Up").key("Up").time == 0.0


def test_bodies_are_faded_hidden_alone_and_come_back():
    player = PLAYER.with_body("clamp", "hidden").with_body("table", "faded")
    assert dict(player.bodies) == {"clamp": "hidden", "table": "faded"}
    assert dict(player.with_body("clamp", "hidden").bodies) == {"table": "faded"}
    alone = player.with_body("post", "alone").with_body("clamp", "alone")
    assert list(dict(alone.bodies).values()).count("alone") == 1


def test_reset_keeps_moment_and_finding_only():
    changed = PLAYER.choose(2).key("e").key("f").key("x").with_body("clamp", "hidden").key("2")
    fresh = changed.key("r")
    assert (fresh.time, fresh.finding, fresh.camera) == (7.5, 2, "finding")
    assert (fresh.speed, fresh.section, fresh.bodies) == (1.0, 0, ())


def test_a_proposal_is_shown_for_a_chosen_finding_alone_and_a_question_waits_for_its_answer():
    player = Player(10.0, (2.0, 5.0))
    assert player.key("g") == player and not player.key("t").asking  # no finding is chosen
    chosen = player.choose(1)
    shown = chosen.key("2").key("g")
    assert shown.ghost_shown and shown.camera == "finding" and shown.wants_cure
    assert not shown.key("g").ghost_shown and not shown.key("Escape").ghost_shown
    asked = chosen.key("t")
    assert asked.asking and asked.wants_cure
    for other in ("space", "q", "2", "w", "Home"):
        assert asked.key(other) == asked
    assert asked.key("n") == chosen and asked.key("Escape") == chosen
    yes = asked.key("y")
    assert yes.writes == 1 and not yes.asking and chosen.key("y") == chosen
    # after a saving nothing is asked any more: the answer would be about another cell
    assert not kept(asked, 10.0, (2.0, 5.0), 1).asking
    assert not kept(shown, 10.0, (2.0,), None).ghost_shown
