"""Knocks at the web server's own door, as the proxy would: `python -m kitshare.serving.knocking /ready/`.

For whatever starts and restarts processes: it ends well where the page answers 200, and says otherwise what it saw. It
imports nothing of the site, since it is run every few seconds.
"""

import http.client
import os
import sys
from typing import Final

SECONDS: Final = 5


def knock(page: str) -> str:
    """What was wrong, or nothing. The name and the scheme are those under which the site is asked for."""
    host, _colon, port = (os.environ.get("KITSHARE_BIND") or "127.0.0.1:8000").rpartition(":")
    if host in {"0.0.0.0", "[::]", ""}:  # noqa: S104
        host = "127.0.0.1"
    name = (os.environ.get("KITSHARE_HOSTS") or "127.0.0.1").split(",")[0].strip()
    connection = http.client.HTTPConnection(host.strip("[]"), int(port), timeout=SECONDS)
    try:
        connection.request("GET", page, headers={"Host": name, "X-Forwarded-Proto": "https"})
        answer = connection.getresponse()
        said = answer.read(2_000).decode("utf-8", "replace")
    except (OSError, http.client.HTTPException) as error:
        return f"{page} did not answer: {error}"
    finally:
        connection.close()
    return "" if answer.status == 200 else f"{page} answered {answer.status}: {said}"


if __name__ == "__main__":
    if wrong := knock(sys.argv[1] if len(sys.argv) > 1 else "/"):
        sys.exit(wrong)
