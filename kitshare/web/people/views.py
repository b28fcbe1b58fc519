"""Signing in, and who is in the scheme."""

from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse
from django.utils.decorators import method_decorator

from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.people.forms import SignInForm
from kitshare.web.soon import soon


@method_decorator(login_not_required, name="dispatch")
class SignIn(auth.LoginView):
    """The door. Whoever is signed in already goes on to where they were going."""

    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


class SignOut(auth.LogoutView):
    """A form sends it, so that no link can sign anybody out."""


def me(request: PageRequest) -> HttpResponse:
    return soon(request)


@for_coordinators
def villages(request: PageRequest) -> HttpResponse:
    return soon(request)


@for_coordinators
def members(request: PageRequest) -> HttpResponse:
    return soon(request)
