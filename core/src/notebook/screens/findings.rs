//! Findings, zones, readings, what to read before a flight.

use super::counted;
use super::records::*;
use super::start::{plain, quantities, steps};
use super::walk::look_words;
use crate::condition::Conditions;
use crate::error::{Error, ErrorKind, Result};
use crate::history::state::{Finding, State};
use crate::history::view::{FindingView, HistoryView, change_words, measure_text};
use crate::notebook::{CONCERNS, Notebook};
use crate::photo::Marks;
use crate::photo::marks::Measured;
use crate::record::kinds::ReadBeforeFlight;
use crate::record::{Body, Digest};

fn finding_line(view: &FindingView) -> FindingLine {
    let part = view
        .part
        .as_deref()
        .map(|part| format!(", {part}"))
        .unwrap_or_default();
    FindingLine {
        id: view.id.hex(),
        short: view.short.clone(),
        zone: view.zone.clone(),
        title: format!("{}: {}{part}", view.zone_name, view.title.to_lowercase()),
        says: view.says.clone(),
        change: view.change.clone(),
        open: view.open,
        concern: view.concern.as_deref().map(plain),
    }
}

impl Notebook {
    /// Findings, deteriorated first, closed ones last.
    ///
    /// # Errors
    /// Those of the index.
    pub fn finding_lines(&self, aircraft: &Digest) -> Result<Vec<FindingLine>> {
        Ok(self
            .history(aircraft)?
            .findings
            .iter()
            .map(finding_line)
            .collect())
    }

    /// One finding.
    ///
    /// # Errors
    /// `Unknown` where it is not here.
    pub fn finding_screen(&self, aircraft: &Digest, finding: &Digest) -> Result<FindingScreen> {
        let state = self.state(aircraft)?;
        let found = state
            .findings
            .iter()
            .find(|other| other.ids.contains(finding))
            .ok_or_else(|| {
                Error::new(ErrorKind::Unknown, "there is no such finding").at(finding.short())
            })?;
        let layout = self.layout_of(&state)?;
        // Only this one is drawn: the others would be worked out and thrown away.
        let alone = State {
            findings: vec![found.clone()],
            authors: state.authors.clone(),
            ..State::default()
        };
        let history = crate::history::view::build(&alone, &layout, &|author| {
            self.shown_author(&state, author)
        });
        let view = history.findings.first().ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "there is no such finding").at(finding.short())
        })?;
        let condition = Conditions::built_in().get(&found.condition);
        let photos: Vec<PhotoLine> = state
            .captures
            .iter()
            .filter(|capture| {
                capture.kind == "photo"
                    && !capture.removed
                    && (capture.finding.is_some_and(|id| found.ids.contains(&id))
                        || found
                            .sightings
                            .iter()
                            .any(|sighting| sighting.evidence.contains(&capture.told.line)))
            })
            .filter_map(|capture| self.photo_line(found, capture))
            .collect();
        Ok(FindingScreen {
            line: finding_line(view),
            zone_name: view.zone_name.clone(),
            condition: found.condition.clone(),
            condition_title: view.title.clone(),
            part: found.part.clone(),
            unsure: found.unsure.clone(),
            first: format!("First recorded {} by {}", view.first.0, view.first.1),
            story: self.story(&state, found, view, &photos),
            photos,
            quantities: condition.map(quantities).unwrap_or_default(),
            steps: condition.map(steps).unwrap_or_default(),
            asks: condition
                .map(|condition| {
                    condition
                        .asks
                        .iter()
                        .map(|ask| AskLine {
                            key: ask.key.clone(),
                            asked: ask.asked.clone(),
                            choices: ask.choices.clone(),
                            unit: ask.unit.map(|unit| unit.symbol().to_owned()),
                        })
                        .collect()
                })
                .unwrap_or_default(),
            cautions: condition
                .map(|condition| condition.cautions.clone())
                .unwrap_or_default(),
            limit: found.limit.as_ref().map(|(quantity, value, unit, source)| {
                format!("{} {value} {unit}, from {source}", plain(quantity))
            }),
            again: found.again.as_deref().map(crate::history::again::words),
            concerns: found
                .concerns
                .iter()
                .map(|(author, concern)| {
                    let name = author.parse().map_or_else(
                        |_| author.clone(),
                        |author| self.shown_author(&state, &author),
                    );
                    format!("{name}: {}", plain(concern))
                })
                .collect(),
        })
    }

    fn photo_line(
        &self,
        finding: &Finding,
        capture: &crate::history::state::Capture,
    ) -> Option<PhotoLine> {
        let (line, closed) = Self::line_on(finding, &capture.told.line);
        Some(PhotoLine {
            entry: capture.told.line.hex(),
            date: capture.told.seen.date().to_owned(),
            path: self.original(&capture.file?).ok()??.display().to_string(),
            orientation: capture.orientation,
            line,
            closed,
        })
    }

    /// The last marks that were made on a photo for a finding. Marks of somebody else's line that no
    /// picture could carry are left out.
    fn line_on(finding: &Finding, photo: &Digest) -> (Vec<f64>, bool) {
        finding
            .sightings
            .iter()
            .rev()
            .flat_map(|sighting| &sighting.measures)
            .filter(|measure| measure.photo.as_ref() == Some(photo))
            .filter_map(|measure| measure.marks.clone())
            .filter_map(|marks| serde_json::from_value::<Marks>(marks).ok())
            .find(|marks| marks.check().is_ok())
            .map(|marks| {
                let closed = marks.quantity == Measured::Area;
                (marks.line_px().concat(), closed)
            })
            .unwrap_or_default()
    }

    fn story(
        &self,
        state: &State,
        finding: &Finding,
        view: &FindingView,
        photos: &[PhotoLine],
    ) -> Vec<StoryLine> {
        let mut lines: Vec<((i64, Digest, u64, Digest), StoryLine)> = Vec::new();
        for shown in &view.sightings {
            let Some(sighting) = finding
                .sightings
                .iter()
                .find(|sighting| sighting.told.line == shown.line)
            else {
                continue;
            };
            let change = shown
                .before
                .as_ref()
                .map(|change| change_words(change, shown.unit.as_deref().unwrap_or_default()))
                .unwrap_or_default();
            lines.push((
                sighting.told.order(),
                StoryLine {
                    entry: shown.line.hex(),
                    date: shown.date.clone(),
                    by: shown.by.clone(),
                    hours: shown.hours.clone(),
                    kind: shown.result.clone(),
                    says: shown.says.clone(),
                    change,
                    value: shown.value,
                    u: shown.u,
                    unit: shown.unit.clone(),
                    photos: photos
                        .iter()
                        .filter(|photo| shown.evidence.iter().any(|id| id.hex() == photo.entry))
                        .cloned()
                        .collect(),
                },
            ));
        }
        for step in &finding.steps {
            let mut words = vec![plain(&step.what)];
            words.extend(step.words.iter().map(|word| plain(word)));
            words.extend(step.measures.iter().map(measure_text));
            lines.push((
                step.told.order(),
                StoryLine {
                    entry: step.told.line.hex(),
                    date: step.told.seen.date().to_owned(),
                    by: self.shown_author(state, &step.told.author),
                    kind: "step".into(),
                    says: words.join("; "),
                    ..StoryLine::default()
                },
            ));
        }
        lines.sort_by_key(|(order, _)| *order);
        lines.into_iter().map(|(_, line)| line).collect()
    }

    /// One zone's history.
    ///
    /// # Errors
    /// `Unknown` for a zone that the layout does not have.
    pub fn zone_screen(&self, aircraft: &Digest, zone: &str) -> Result<ZoneScreen> {
        let state = self.state(aircraft)?;
        let mut layout = self.layout_of(&state)?;
        let code = self.zone_code(&layout, zone)?;
        // Only this zone is drawn.
        layout.zones.retain(|zone| zone.code == code);
        let alone = State {
            findings: state
                .findings
                .iter()
                .filter(|finding| finding.zone == code)
                .cloned()
                .collect(),
            looks: state
                .looks
                .iter()
                .filter(|look| look.zone == code)
                .cloned()
                .collect(),
            walkarounds: state.walkarounds.clone(),
            authors: state.authors.clone(),
            ..State::default()
        };
        let history: HistoryView = crate::history::view::build(&alone, &layout, &|author| {
            self.shown_author(&state, author)
        });
        let view = history.zones.first();
        let looks: Vec<LookLine> = view
            .map(|view| {
                view.looks
                    .iter()
                    .zip(&history.walkarounds)
                    .map(|((id, look, words), walkaround)| LookLine {
                        walkaround: id.hex(),
                        date: walkaround.date.clone(),
                        by: walkaround.by.clone(),
                        hours: walkaround.hours.clone(),
                        look: look.clone(),
                        says: if words.is_empty() {
                            look_words(look)
                        } else {
                            format!("{}: {words}", look_words(look))
                        },
                    })
                    .collect()
            })
            .unwrap_or_default();
        let open = view.map_or(0, |view| view.open);
        let last = view.and_then(|view| view.last.clone());
        Ok(ZoneScreen {
            name: layout
                .zone(&code)
                .map(|zone| zone.name.clone())
                .unwrap_or_default(),
            says: match last {
                None => "Nobody has looked here.".into(),
                Some(date) => format!("{} open; last looked at {date}", counted(open, "finding")),
            },
            looks,
            findings: history.findings.iter().map(finding_line).collect(),
            captures: state
                .captures
                .iter()
                .filter(|capture| capture.zone.as_ref() == Some(&code) && !capture.removed)
                .map(|capture| self.capture_line(capture, None))
                .collect(),
            code,
        })
    }

    /// Open findings to read before a flight, gravest concern first.
    ///
    /// # Errors
    /// Those of the index.
    pub fn before_flight_view(&self, aircraft: &Digest) -> Result<BeforeFlightView> {
        let mut findings = self.finding_lines(aircraft)?;
        findings.retain(|line| line.open);
        let grave = |line: &FindingLine| {
            line.concern
                .as_deref()
                .and_then(|concern| CONCERNS.iter().position(|word| plain(word) == concern))
                .map_or(0, |at| at + 1)
        };
        findings.sort_by_key(|line| std::cmp::Reverse(grave(line)));
        let state = self.state(aircraft)?;
        let last = self
            .index
            .kind_lines(aircraft, "read before flight")?
            .into_iter()
            .max_by_key(|row| row.order_us);
        Ok(BeforeFlightView {
            findings,
            cautions: vec![
                "This is what people wrote, not whether the aircraft may fly: that is the pilot's and a licensed mechanic's to settle, by the aircraft's manual.".into(),
            ],
            last_read: last
                .map(|row| {
                    format!(
                        "Last read {} by {}",
                        row.seen.date(),
                        self.shown_author(&state, &row.author)
                    )
                })
                .unwrap_or_default(),
        })
    }

    /// Writes down that this author has read the open findings now.
    ///
    /// # Errors
    /// Those of writing.
    pub fn read_before_flight(&mut self, aircraft: &Digest) -> Result<Digest> {
        let findings = self
            .state(aircraft)?
            .findings
            .iter()
            .filter(|finding| finding.open)
            .map(|finding| finding.id)
            .collect();
        let walkaround = self.current_walkaround(aircraft)?;
        let body = ReadBeforeFlight {
            findings,
            walkaround,
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, Body::from(body))
    }
}
