"""The pages of a season's start and end: lists offered and changed, tasks ticked off, what is left said elsewhere."""

import pytest
from django.urls import reverse

from kitshare.bookings.models import Season
from kitshare.logbook import actions as logbook
from kitshare.upkeep import season_tasks
from kitshare.upkeep.season_models import Occasion, SeasonTask, TaskTick
from tests.web.upkeep.test_care import page_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def tasks(mill, teodor, now):
    facts = {"machine": mill, "occasion": Occasion.START, "by": teodor, "at": now}
    return season_tasks.list_tasks(lines=["Unplug it.", "Look at the blades."], **facts)


def test_a_list_is_offered_taken_and_changed(signed_in, teodor, season, mill):
    browser, address = signed_in(teodor), reverse("upkeep:season_list", args=[mill.pk, "start"])

    offered, begun = page_of(browser.get(address)), browser.get(f"{address}?begin=yes").context["form"]
    lines = begun.initial["lines"]
    saved = browser.post(address, {"lines": lines.replace("\n", "\r\n"), "seen": ""})

    assert "A list to begin with" in offered
    assert SeasonTask.objects.count() == len(lines.splitlines()) > 3
    assert saved["Location"] == f"{reverse('upkeep:season_kit', args=[mill.kit_id])}?occasion=start"
    assert "A list to begin with" not in page_of(browser.get(address))


def test_tasks_are_ticked_off_once_by_name_and_opened_again(signed_in, teodor, season, heron, tasks):
    browser, address = signed_in(teodor), reverse("upkeep:season_kit", args=[heron.pk])

    for _twice in range(2):
        answer = browser.post(address, {"tasks": [tasks[0].pk, tasks[0].pk]})
    page = page_of(browser.get(answer["Location"]))

    assert TaskTick.objects.get().task == tasks[0]
    assert "1 task is left." in page
    assert "Teodor" in page
    assert "Start of Autumn 2027: 1 task is left." in page_of(browser.get("/"))
    assert "Start of Autumn 2027: 1 task is left." in page_of(browser.get(reverse("upkeep:due")))
    assert "1 of 2 tasks left." in page_of(browser.get(reverse("upkeep:season_work")))
    back = reverse("upkeep:season_task_back", args=[tasks[0].pk])
    assert [browser.post(f"{back}?season={season.pk}&occasion=start").status_code for _twice in range(2)] == [302, 302]
    assert not TaskTick.objects.exists()


@pytest.mark.parametrize("typed", [[], ["x"], ["9" * 40], ["0"], ["-1"]])
def test_what_is_no_task_ticks_nothing_and_is_said(signed_in, teodor, season, heron, tasks, typed):
    answer = signed_in(teodor).post(reverse("upkeep:season_kit", args=[heron.pk]), {"tasks": typed})

    assert answer.status_code == 422
    assert not TaskTick.objects.exists()


@pytest.mark.parametrize("query", ["season=999", "season=" + "9" * 40, "occasion=never", "season=x&occasion=lay_up"])
def test_a_bent_address_is_answered_all_the_same(signed_in, teodor, season, heron, tasks, query):
    browser = signed_in(teodor)

    for name, keys in (("season_work", []), ("season_kit", [heron.pk])):
        assert browser.get(f"{reverse(f'upkeep:{name}', args=keys)}?{query}").status_code == 200
    assert browser.get(reverse("upkeep:season_list", args=[tasks[0].machine_id, "never"])).status_code == 404


def test_a_list_that_somebody_changed_meanwhile_is_not_written_over(signed_in, teodor, mill, tasks, now):
    seen = logbook.newest_line(mill)
    season_tasks.list_tasks(machine=mill, occasion=Occasion.START, lines=["One."], by=teodor, at=now)

    answer = signed_in(teodor).post(
        reverse("upkeep:season_list", args=[mill.pk, "start"]), {"lines": "Two.", "seen": seen}
    )

    assert answer.status_code == 422
    assert "tasks of the season&#x27;s start: One." in page_of(answer)
    assert ">\nTwo.</textarea>" in page_of(answer)


def test_borrowers_see_none_of_it_and_without_a_season_the_page_says_so(signed_in, teodor, sunniva, heron, mill, tasks):
    names = [("season_work", []), ("season_kit", [heron.pk]), ("season_list", [mill.pk, "start"])]
    addresses = [reverse(f"upkeep:{name}", args=keys) for name, keys in names]

    assert [signed_in(sunniva).get(address).status_code for address in addresses] == [403] * 3
    assert not Season.objects.exists()
    assert "No season has been set yet." in page_of(signed_in(teodor).get(addresses[1], follow=True))


@pytest.mark.parametrize("number", [1, 12])
def test_a_kits_page_costs_the_same_for_one_machine_and_for_twelve(
    signed_in, teodor, season, otter, now, number, django_assert_num_queries
):
    for place in range(number):
        machine = otter.machines.create(name=f"Mill {place}", kind="mill")
        made = season_tasks.list_tasks(machine=machine, occasion=Occasion.START, lines=["A.", "B."], by=teodor, at=now)
        season_tasks.tick(tasks=made[:1], season_key=season.pk, season_name="", by=teodor, at=now)
    browser = signed_in(teodor)
    browser.get("/")

    # session, member, scheme; kit, seasons twice, machines, tasks, ticks
    with django_assert_num_queries(9):
        browser.get(reverse("upkeep:season_kit", args=[otter.pk]))
