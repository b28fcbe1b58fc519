"""What people type on the pages about people."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.utils.translation import gettext_lazy as _


class SignInForm(AuthenticationForm):
    """E-mail address and password."""

    error_messages = {
        "invalid_login": _(
            "This address and password do not belong together. Look for a typing slip,"
            " or telephone the coordinator for a new password."
        ),
        "inactive": _("This account is closed. Telephone the coordinator."),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"] = forms.EmailField(
            label=_("E-mail address"),
            widget=forms.EmailInput(attrs={"autocomplete": "username", "autofocus": True}),
        )
        self.fields["password"].label = _("Password")
        self.order_fields(["username", "password"])
