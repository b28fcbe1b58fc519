from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def soon(request: HttpRequest, **kwargs: object) -> HttpResponse:
    return render(request, "soon.html")
