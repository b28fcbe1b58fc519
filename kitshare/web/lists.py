"""How every list is put in order and cut into pages."""

from typing import Any, Final

from django.http import HttpRequest
from django_tables2 import RequestConfig  # noqa: TID251

ROWS: Final = 25  # on one page


def on_pages(request: HttpRequest, table: Any, *, rows: int = ROWS) -> None:
    """Order a table as its address asks, and show the page it asks for, or the nearest there is.

    How long a page is, no address says: it could ask for pages of no rows, or for all rows at once.
    """
    RequestConfig(request, paginate=False).configure(table)
    table.paginate(per_page=rows)
    table.page = table.paginator.get_page(request.GET.get("page"))
