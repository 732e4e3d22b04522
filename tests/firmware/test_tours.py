"""Walks over the charts of the shipped devices that have a firmware."""

from __future__ import annotations

import random

import pytest

from nudgeproof.cli.files import read_spec
from nudgeproof.firmware.acts import BUTTON, CELL, edges_of
from nudgeproof.firmware.handling import Handling
from nudgeproof.firmware.tours import HIGH, LOW, Hand, begin_node, lines_of, paths, round_of_states, tours, walk_graph
from nudgeproof.spec.types import Device
from tests.snapshots.screens import ROOT

DEVICES = ("rain-cover-light", "moisture-meter", "seed-tray-timer", "trail-counter")


def device_of(name: str) -> Device:
    return read_spec(str(ROOT / "specs" / f"{name}.yaml"))


@pytest.mark.parametrize("name", DEVICES)
def test_walks_hang_together_and_take_every_line_that_can_be_forced(name: str) -> None:
    device = device_of(name)
    graph = walk_graph(device)
    taken = set()
    for walk in tours(device, graph):
        node = begin_node(device)
        for way in walk:
            assert any(data["way"] == way for _, _, data in graph.out_edges(node, data=True)), (node, way)
            taken.add((node, way))
            node = way.to
    able = {node for node, _ in paths(device, graph)}
    forced = {(a, data["way"]) for a, _, data in graph.edges(data=True) if a in able and data["way"].kind != "none"}
    assert taken == forced
    assert {way.says for _, way in taken} <= set(lines_of(graph))


@pytest.mark.parametrize("name", DEVICES)
def test_a_round_of_the_states_hangs_together_and_meets_all_that_can_be_forced(name: str) -> None:
    device = device_of(name)
    graph = walk_graph(device)
    for begin, _ in paths(device, graph):
        node, met = begin, {begin[0]}
        for way in round_of_states(graph, begin):
            assert any(data["way"] == way for _, _, data in graph.out_edges(node, data=True)), (node, way)
            node = way.to
            met.add(node[0])
        assert met == {state for (state, _), _ in paths(device, graph)}


def test_nobody_forces_that_it_wakes() -> None:
    graph = walk_graph(device_of("failures/classes/stale-wake-flag/broken"))
    kinds = {data["way"].name: data["way"].kind for _, _, data in graph.edges(data=True)}
    assert kinds["waking"] == "none"


def test_a_voltage_is_an_event_that_lasts_until_it_was_surely_read() -> None:
    device = device_of("moisture-meter")
    graph = walk_graph(device)
    kinds = {data["way"].says: data["way"].kind for _, _, data in graph.edges(data=True)}
    assert kinds["cell low: measuring, warning empty cell"] == "event"
    assert Hand(device).event("cell low", 7).lasts_us == 1_152_632
    assert Hand(device).event("footfall", 7).lasts_us == 5_000
    assert kinds["tap: measuring, unit grade"] == "gesture"
    assert kinds["after 30 s: measuring -> off"] == "wait"


def test_gestures_have_the_times_of_the_habits_and_just_beside_the_limits() -> None:
    device = device_of("rain-cover-light")
    hand, gesture = Hand(device), device.gesture("tap then hold")
    low, high = hand.perform(gesture, LOW, 0), hand.perform(gesture, HIGH, 0)
    assert [act.lasts_us for act in low] == [60_000, 1_400_000]
    assert [act.lasts_us for act in high] == [350_000, 2_500_000]
    assert low[1].at_us - low[0].end_us == 80_000
    late = hand.perform(gesture, LOW, 0, "pause too long")
    assert late[1].at_us - late[0].end_us > int(gesture.between.hi)  # type: ignore[union-attr]
    short = hand.perform(gesture, LOW, 0, "hold too short")
    assert short[1].lasts_us < gesture.held.lo  # type: ignore[union-attr]


@pytest.mark.parametrize("name", DEVICES)
def test_random_use_is_that_of_its_seed_and_chatters_within_bounds(name: str) -> None:
    device = device_of(name)
    handling = Handling(device, Hand(device), True, True)
    seen = set()
    for seed in range(60):
        acts, end_us = handling.use(random.Random(seed))
        assert handling.use(random.Random(seed)) == (acts, end_us)
        for act in acts:
            seen.add(act.kind)
            if act.kind == BUTTON:
                bounce = device.button(act.what).bounce_us
                assert all(flip < bounce for flip in (*act.closing, *act.opening))
        times = [edge.at_us for edge in edges_of(acts)]
        assert times == sorted(set(times))
        assert not times or times[-1] < end_us
    assert {BUTTON, CELL} <= seen
