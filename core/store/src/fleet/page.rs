//! The desk view as one HTML file in the report's style: no network, no script, readable on paper.

use super::due::When;
use super::status::{AircraftStatus, FleetStatus};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use witnessmark_core::report::words::{concern, count, day};

/// The report's own sheet, so that both look alike.
const STYLE: &str = include_str!("../../../src/report/page/style.css");

impl FleetStatus {
    /// The page.
    pub fn to_page(&self) -> String {
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";
                    title { "All aircraft" }
                    style { (PreEscaped(STYLE)) }
                }
                body {
                    header {
                        p.kind { "All aircraft, worst first" }
                        h1 { (count(self.aircraft.len(), "aircraft").trim_end_matches('s')) }
                        p.facts { "As known on " (day(&self.day)) }
                    }
                    main #main {
                        (self.table())
                        @for one in &self.aircraft { (story(one)) }
                        p.notice { (self.says) }
                    }
                }
            }
        };
        page.into_string()
    }

    fn table(&self) -> Markup {
        html! {
            section #open {
                h2 { "At a glance" }
                @if self.aircraft.is_empty() { p { "No aircraft is in this notebook." } }
                @else {
                    div.wide tabindex="0" role="region" aria-label="All aircraft" {
                        table {
                            caption { "In order of the gravest open concern, then of how many findings became worse, then of looks that are past or due." }
                            thead { tr {
                                th scope="col" { "Aircraft" } th scope="col" { "Last walkaround" } th scope="col" { "Open findings" }
                                th scope="col" { "Became worse" } th scope="col" { "To be looked at again" } th scope="col" { "Zones never looked at" }
                            } }
                            tbody { @for one in &self.aircraft { tr {
                                th scope="row" { a href={ "#a-" (one.aircraft) } { (one.registration) } " " span.type { (one.kind) } }
                                td { (one.last_words()) @if let Some(hours) = &one.hours { "; " (hours) " h" } }
                                td { (one.open_words()) }
                                td.num { (one.deteriorated.len()) }
                                td { (looks(one)) }
                                td.num { (one.never_looked_at) }
                            } } }
                        }
                    }
                }
            }
        }
    }
}

fn looks(one: &AircraftStatus) -> String {
    match (one.pressing(), one.look_again.len()) {
        (_, 0) => "nothing set".to_owned(),
        (0, all) => format!("{all} later or as said"),
        (now, all) if now == all => format!("{now} past or due"),
        (now, all) => format!("{now} past or due, {} later or as said", all - now),
    }
}

fn story(one: &AircraftStatus) -> Markup {
    html! {
        @if !one.deteriorated.is_empty() || !one.look_again.is_empty() {
            section id={ "a-" (one.aircraft) } {
                h2 { (one.registration) " " span.type { (one.kind) } }
                @if !one.deteriorated.is_empty() {
                    h3 { "Became worse, worst first" }
                    ol { @for worse in &one.deteriorated {
                        li { (worse.place) ": " b { (worse.says) }
                            @if let Some(word) = &worse.concern { "; " (concern(word)) }
                            " " span.code { (worse.finding) } }
                    } }
                }
                @if !one.look_again.is_empty() {
                    h3 { "To be looked at again" }
                    ul { @for due in &one.look_again {
                        li { (due.place) ": " (due.at)
                            @match due.when {
                                When::Past => { " " b { "past" } }
                                When::Now => { " " b { "now" } }
                                When::Later | When::AsSaid => {}
                            } }
                    } }
                }
            }
        } @else {
            section id={ "a-" (one.aircraft) } {
                h2 { (one.registration) " " span.type { (one.kind) } }
                p { "Nothing is recorded as worse and no look is set. That does not mean that nothing is wrong." }
            }
        }
    }
}
