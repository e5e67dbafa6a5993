//! The day of today: the only place that asks the clock for a date.

use rules::date::Date;

/// Today in UTC, so that two machines of a shop agree.
#[must_use]
pub(crate) fn today() -> Option<Date> {
    let now = time::OffsetDateTime::now_utc().date();
    Date::new(
        u16::try_from(now.year()).ok()?,
        now.month().into(),
        now.day(),
    )
}
