//! The journal's times as days and times of day in the house's zone. A time that cannot be read is nothing.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// Reads and tells times.
pub(super) struct Times<'h> {
    pub(super) zone: &'h TimeZone,
}

impl Times<'_> {
    /// The day on which that was.
    pub(super) fn day(&self, utc: &str) -> Option<Date> {
        Some(self.zone.to_datetime(utc.parse::<Timestamp>().ok()?).date())
    }

    /// The time of day, to the second; what stands there when it is no time.
    pub(super) fn time(&self, utc: &str) -> String {
        utc.parse::<Timestamp>()
            .map_or_else(|_| utc.to_owned(), |at| self.zone.to_datetime(at).strftime("%H:%M:%S").to_string())
    }

    /// Day and time of day.
    pub(super) fn both(&self, utc: &str) -> String {
        let said = |at: Timestamp| self.zone.to_datetime(at).strftime("%Y-%m-%d %H:%M:%S").to_string();
        utc.parse::<Timestamp>().map_or_else(|_| utc.to_owned(), said)
    }

    /// The zone's name, or its distance from UTC.
    pub(super) fn zone_name(&self) -> String {
        let name = self.zone.iana_name().unwrap_or("local time");
        name.trim_start_matches("Etc/").to_owned()
    }
}

/// Microseconds since 1970.
pub(super) fn micros(utc: &str) -> Option<i64> {
    Some(utc.parse::<Timestamp>().ok()?.as_microsecond())
}
