"""What is ticked at the briefing, and what a scheme adds to it."""

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.briefing import Words
from kitshare.bookings.briefing_models import BriefingSettings
from kitshare.bookings.briefing_text import Point
from kitshare.web.forms import WatchingForm


class PointsForm(forms.Form):
    """A tick for each point. Nothing is ticked beforehand, and the words that were read go along."""

    version = forms.CharField(widget=forms.HiddenInput, max_length=40)

    def __init__(self, data: QueryDict | None, *, words: Words) -> None:
        super().__init__(data, initial={"version": words.version})
        self.points = words.points
        for point in words.points:
            self.fields[point.key] = forms.BooleanField(
                label=str(point.title),
                required=True,
                error_messages={"required": _("Read it, and tick it.")},
            )

    @property
    def lines(self) -> list[tuple[Point, forms.BoundField]]:
        """Each point with its tick."""
        return [(point, self[point.key]) for point in self.points]

    @property
    def ticked(self) -> set[str]:
        return {point.key for point in self.points if self.cleaned_data.get(point.key)}

    def ask_anew(self, words: Words) -> None:
        """Begin again with the words in force: what was ticked was ticked under others."""
        self.data = QueryDict(f"version={words.version}", mutable=True)


class WordsForm(WatchingForm[BriefingSettings]):
    """The scheme's own words, and whether a pickup waits."""

    class Meta:
        model = BriefingSettings
        fields = ["own_words", "holds_pickup"]
        widgets: Any = {"own_words": forms.Textarea(attrs={"rows": 8})}
