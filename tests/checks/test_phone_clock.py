"""When a sheet was signed, whatever the phone's clock says."""

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.checks.phone_clock import Signed, when_signed

NOW = datetime(2027, 9, 5, 12, tzinfo=UTC)
ASKED = NOW - timedelta(days=10)
MOMENTS = st.datetimes(timezones=st.just(UTC))


@settings(max_examples=60)
@given(
    waited=st.timedeltas(timedelta(0), timedelta(days=9)),
    ahead=st.timedeltas(timedelta(days=-20_000), timedelta(days=20_000)),
)
def test_a_clock_that_is_off_by_any_amount_gives_the_same_moment(waited, ahead):
    signed = when_signed(made_at=NOW + ahead - waited, sent_at=NOW + ahead, received_at=NOW, not_before=ASKED)

    assert signed.at == NOW - waited
    assert abs(signed.clock_ahead - ahead.total_seconds()) < 1


@settings(max_examples=60)
@given(made=st.none() | MOMENTS, sent=st.none() | MOMENTS)
def test_whatever_a_phone_says_the_moment_lies_between_the_asking_and_now(made, sent):
    signed = when_signed(made_at=made, sent_at=sent, received_at=NOW, not_before=ASKED)

    assert ASKED <= signed.at <= NOW
    assert -(2**31) < signed.clock_ahead < 2**31


def test_a_clock_set_back_between_signing_and_sending_gives_no_wait():
    signed = when_signed(
        made_at=NOW, sent_at=NOW - timedelta(hours=3), received_at=NOW, not_before=NOW - timedelta(days=1)
    )

    assert signed == Signed(at=NOW, clock_ahead=-3 * 3600)
