//! How an aircraft is laid out: zones, stops, outlines, overall views.
