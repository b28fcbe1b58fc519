"""The recursion of batches through stations, against a simulation and against published flow shops."""

from itertools import permutations

import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.flow import FlowUnusable, Passage, Place, flow, makespan


def simulated(times: list[list[float]], places: list[Place], released: list[float]) -> list[float]:
    """When each batch leaves the last station, by simpy: a batch holds its place until it is let into the next station.

    Room at a station and its places together are one resource of that many slots; a place is another inside it.
    """
    env = simpy.Environment()
    endless = 10**6
    slots = [simpy.Resource(env, p.servers + (endless if p.room is None else p.room)) for p in places]
    workers = [simpy.Resource(env, p.servers) for p in places]
    left = [0.0] * len(times)

    def batch(number: int):  # type: ignore[no-untyped-def]
        if released[number]:
            yield env.timeout(released[number])
        slot_before, worker_before = None, None
        for station in range(len(places)):
            slot = slots[station].request()
            if station:
                yield slot
                workers[station - 1].release(worker_before)
                slots[station - 1].release(slot_before)
            worker = workers[station].request()
            yield worker
            if not station:
                yield slot
            yield env.timeout(times[number][station])
            slot_before, worker_before = slot, worker
        workers[-1].release(worker_before)
        slots[-1].release(slot_before)
        left[number] = env.now

    for number in range(len(times)):
        env.process(batch(number))
    env.run()
    return left


counts = st.integers(1, 4)
minutes = st.integers(0, 20).map(float)


@st.composite
def shops(draw: st.DrawFn, servers: st.SearchStrategy[int]):  # type: ignore[no-untyped-def]
    stations = draw(counts)
    batches = draw(st.integers(1, 7))
    alike = [draw(minutes) for _ in range(stations)]
    several = [draw(servers) for _ in range(stations)]
    # Where places work side by side, batches take equal times: then none would overtake in a simulation either.
    times = [[alike[i] if max(several) > 1 else draw(minutes) for i in range(stations)] for _ in range(batches)]
    places = [
        Place(servers=several[i], room=None if i == 0 else draw(st.one_of(st.none(), st.integers(0, 2))))
        for i in range(stations)
    ]
    released = sorted(draw(st.lists(minutes, min_size=batches, max_size=batches)))
    return times, places, released


@given(shops(st.just(1)))
@settings(deadline=None)
def test_single_places_flow_as_simulated(shop) -> None:  # type: ignore[no-untyped-def]
    times, places, released = shop

    found = flow(times, places, released=released)

    assert [row[-1].leave for row in found] == pytest.approx(simulated(times, places, released))


@given(shops(st.integers(1, 3)))
@settings(deadline=None)
def test_places_side_by_side_flow_as_simulated(shop) -> None:  # type: ignore[no-untyped-def]
    times, places, released = shop

    found = flow(times, places, released=released)

    assert [row[-1].leave for row in found] == pytest.approx(simulated(times, places, released))


@given(st.lists(st.tuples(minutes, minutes), min_size=1, max_size=9), st.integers(1, 3))
@settings(deadline=None)
def test_unequal_batches_in_baths_side_by_side_go_as_simulated(batches: list[tuple[float, float]], baths: int) -> None:
    """Kinds of container differ in their minutes; with one station behind them a quick one may come out before a slow."""
    released = sorted(batch[0] for batch in batches)
    times = [[batch[1]] for batch in batches]

    found = flow(times, [Place(servers=baths)], released=released)

    assert [row[-1].leave for row in found] == pytest.approx(simulated(times, [Place(servers=baths)], released))


@given(shops(st.integers(1, 3)), st.data())
@settings(deadline=None)
def test_a_longer_time_never_finishes_sooner(shop, data: st.DataObject) -> None:  # type: ignore[no-untyped-def]
    times, places, released = shop
    j = data.draw(st.integers(0, len(times) - 1))
    i = data.draw(st.integers(0, len(places) - 1))
    slower = [list(row) for row in times]
    slower[j][i] += data.draw(minutes)

    assert makespan(flow(slower, places, released=released)) >= makespan(flow(times, places, released=released))


@given(shops(st.integers(1, 3)))
@settings(deadline=None)
def test_room_only_ever_helps(shop) -> None:  # type: ignore[no-untyped-def]
    times, places, released = shop
    roomy = [Place(servers=p.servers) for p in places]

    assert makespan(flow(times, roomy, released=released)) <= makespan(flow(times, places, released=released))
    assert all(p.blocked == 0 for row in flow(times, roomy, released=released) for p in row)


def test_a_batch_without_room_ahead_stays_and_blocks() -> None:
    found = flow([[1, 10], [1, 10], [1, 10]], [Place(), Place(room=0)])

    assert found[1][0] == Passage(start=1, end=2, leave=11)
    assert found[1][0].blocked == 9
    assert found[2][0].start == 11
    assert makespan(found) == 31


def test_what_takes_seconds_and_finds_room_moves_on_after_seconds() -> None:
    assert flow([[0.25, 10]], [Place(), Place(room=0)])[0][0] == Passage(start=0, end=0.25, leave=0.25)


def test_one_waiting_place_frees_the_first_station() -> None:
    found = flow([[1, 10], [1, 10], [1, 10]], [Place(), Place(room=1)])

    assert found[1][0].leave == 2
    assert found[2][0] == Passage(start=2, end=3, leave=11)


def test_a_quick_batch_does_not_overtake_a_slow_one() -> None:
    found = flow([[10, 1], [1, 1]], [Place(servers=2), Place(servers=2)])

    assert found[1][0] == Passage(start=0, end=1, leave=1)
    assert found[1][1].start == found[0][1].start == 10


def test_no_batches_take_no_time() -> None:
    assert makespan(flow([], [Place()])) == 0


@pytest.mark.parametrize(
    ("times", "places", "released"),
    [
        ([[1.0]], [], None),
        ([[1.0]], [Place(servers=0)], None),
        ([[1.0]], [Place(room=-1)], None),
        ([[1.0, 2.0]], [Place()], None),
        ([[-1.0]], [Place()], None),
        ([[float("nan")]], [Place()], None),
        ([[1.0]], [Place()], [1.0, 2.0]),
        (
            [[1.0], [1.0]],
            [
                Place(),
            ],
            [2.0, 1.0],
        ),
    ],
)
def test_nonsense_is_refused(times, places, released) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(FlowUnusable):
        flow(times, places, released=released)


PIPES = [[3, 5, 5], [6, 4, 2], [3, 2, 4], [5, 4, 6], [5, 4, 3], [7, 5, 6]]


def test_the_best_order_of_the_published_pipe_shop_is_found() -> None:
    """Gueret, Prins and Sevaux, Applications of optimization with Xpress-MP, section 7.2: data read; 35 from memory."""
    best = min(makespan(flow([PIPES[j] for j in order], [Place()] * 3)) for order in permutations(range(6)))

    assert best == 35


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=5))
@settings(deadline=None, max_examples=40)
def test_johnsons_order_is_the_best_of_two_stations(jobs: list[tuple[int, int]]) -> None:
    """Johnson, Naval Research Logistics Quarterly 1:61, 1954: j before k where min(a_j, b_k) < min(a_k, b_j)."""
    first = sorted((job for job in jobs if job[0] < job[1]), key=lambda job: job[0])
    last = sorted((job for job in jobs if job[0] >= job[1]), key=lambda job: -job[1])

    ours = makespan(flow([*first, *last], [Place()] * 2))

    assert ours == min(makespan(flow(order, [Place()] * 2)) for order in permutations(jobs))


def johnsons_idle_time(jobs: list[tuple[int, int]]) -> int:
    """The makespan by the same paper's sum: max over u of (a_1 .. a_u - b_1 .. b_(u-1)), and all the b."""
    waits = [sum(a for a, _ in jobs[: u + 1]) - sum(b for _, b in jobs[:u]) for u in range(len(jobs))]
    return max(waits) + sum(b for _, b in jobs)


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=9))
@settings(deadline=None, max_examples=40)
def test_two_stations_take_what_johnsons_sum_says(jobs: list[tuple[int, int]]) -> None:
    assert makespan(flow(jobs, [Place()] * 2)) == johnsons_idle_time(jobs)
