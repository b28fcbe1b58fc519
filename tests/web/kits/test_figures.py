"""The figures of a machine: which a kind has, what a refused form says, and where they are seen."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from kitshare.kits.models import FIGURE_BOUNDS, FIGURES_OF, Machine, MachineKind
from kitshare.logbook.models import Entry

pytestmark = pytest.mark.django_db


def figures_page(machine):
    return reverse("kits:machine_figures", args=[machine.pk])


def test_a_press_is_asked_for_cheeses_and_a_mill_is_not(signed_in, teodor, mill, press):
    client = signed_in(teodor)

    assertContains(client.get(figures_page(press)), "Kilograms of fruit in one cheese")
    assertNotContains(client.get(figures_page(mill)), "cheese")
    assertNotContains(client.get(figures_page(press)), "bath")


def test_figures_are_kept_shown_and_written_down(signed_in, teodor, press):
    client = signed_in(teodor)
    typed = {"kg_per_hour": "180", "cheese_kg": "42,5", "cloths_per_cheese": "8", "power_watts": ""}

    client.post(figures_page(press), typed)

    press.refresh_from_db()
    assert (press.kg_per_hour, float(press.cheese_kg), press.cloths_per_cheese, press.power_watts) == (
        180,
        42.5,
        8,
        None,
    )
    assertContains(client.get(reverse("kits:machine", args=[press.pk])), '<span class="number">42.5</span>')
    assertContains(client.get(figures_page(press)), 'value="42.5"')
    assert "kilograms of fruit in one cheese from nothing to “42.5”" in Entry.objects.about(press).first().text


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("kg_per_hour", "0", "Give a whole number from 1 to 20000"),
        ("kg_per_hour", "a lot", "Give a whole number from 1 to 20000"),
        ("cheese_kg", "2000.1", "Give a number from 5 to 2000"),
        ("cheese_kg", "9" * 40, "Give a number from 5 to 2000"),
        ("cloths_per_cheese", "61", "Give a whole number from 1 to 60"),
    ],
)
def test_a_figure_out_of_bounds_is_said_by_its_field_and_stays_there(signed_in, teodor, press, name, typed, words):
    answer = signed_in(teodor).post(figures_page(press), {name: typed})

    assertContains(answer, words, status_code=422)
    assertContains(answer, f'value="{typed}"', status_code=422)
    press.refresh_from_db()
    assert getattr(press, name) is None


def test_borrowers_read_figures_and_change_none(signed_in, leilani, press):
    client = signed_in(leilani)

    assertContains(client.get(reverse("kits:machine", args=[press.pk])), "Figures for planning")
    assertNotContains(client.get(reverse("kits:machine", args=[press.pk])), figures_page(press))
    assert client.post(figures_page(press), {"kg_per_hour": "9"}).status_code == 403


@pytest.mark.parametrize("name", FIGURE_BOUNDS)
def test_machine_figures_are_believable(press, name):
    least, most = FIGURE_BOUNDS[name]
    for value in (least - 1, most + 1):
        with pytest.raises(IntegrityError), transaction.atomic():
            Machine.objects.filter(pk=press.pk).update(**{name: value})

    assert Machine.objects.filter(pk=press.pk).update(**{name: most}) == 1


def test_every_kind_has_its_figures_and_every_figure_a_kind():
    assert set(FIGURES_OF) == set(MachineKind.values)
    assert {name for names in FIGURES_OF.values() for name in names} == set(FIGURE_BOUNDS)
