//! From a scan to the station table: axes, hand, scale, stations
