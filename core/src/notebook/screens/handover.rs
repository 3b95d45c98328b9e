//! Handing over in words: packs, checks, what was received, open findings as one QR code.

use super::records::*;
use super::{counted, number};
use crate::error::{Error, ErrorKind, Result, without_commands};
use crate::notebook::{Notebook, Received};
use crate::pack::cut::Cut;
use crate::pack::exchange::Met;
use crate::pack::packer::Packed;
use crate::pack::receive::Outcome;
use crate::pack::verify::{Report, Row, Status};
use crate::record::Digest;
use crate::record::proof::code::ProofCode;

/// Cuts of a pack, the commonest first.
pub fn cut_choices() -> Vec<Choice> {
    [
        (
            "review",
            "Review: every open finding with its history, for a mechanic",
        ),
        ("finding", "One finding's story"),
        (
            "baseline",
            "Baseline: every zone and the papers, for a buyer",
        ),
        ("handing_over", "Handing over: before and after a hire"),
    ]
    .iter()
    .map(|(key, title)| super::start::choice(key, title))
    .collect()
}

impl From<&Row> for VerifyLine {
    fn from(row: &Row) -> Self {
        let touches: Vec<String> = [
            row.walkaround.as_ref().map(|id| format!("walkaround {id}")),
            row.zone.as_ref().map(|code| format!("zone {code}")),
            row.finding.as_ref().map(|id| format!("finding {id}")),
        ]
        .into_iter()
        .flatten()
        .collect();
        Self {
            code: row.code.to_owned(),
            status: match row.status {
                Status::Failure => "failure",
                Status::Hint => "hint",
                Status::InOrder => "in_order",
            }
            .into(),
            file: row.file.clone(),
            touches: touches.join(", "),
            what: without_commands(&row.what),
            what_to_do: without_commands(&row.remedy),
        }
    }
}

impl From<&Report> for VerifyView {
    fn from(report: &Report) -> Self {
        let count = |status| {
            report
                .rows
                .iter()
                .filter(|row| row.status == status)
                .count()
        };
        Self {
            rows: report.rows.iter().map(VerifyLine::from).collect(),
            failed: report.failed(),
            says: format!(
                "Checked {} entries and {} files: {}, {}.",
                report.lines,
                report.files,
                counted(count(Status::Failure), "failure"),
                counted(count(Status::Hint), "hint")
            ),
            worth: report.worth.to_owned(),
        }
    }
}

impl From<&Outcome> for ReceivedView {
    fn from(outcome: &Outcome) -> Self {
        Self {
            refused: outcome.refused,
            entries: outcome.lines,
            known: outcome.known,
            files: outcome.new_files,
            left: 0,
            says: received_words(
                outcome.refused,
                outcome.dry_run,
                outcome.lines,
                outcome.new_files,
                outcome.known,
            ),
            check: (&outcome.report).into(),
        }
    }
}

impl From<&Met> for ReceivedView {
    fn from(met: &Met) -> Self {
        let mut view = Self::from(&met.outcome);
        view.left = met.put;
        view.say_left();
        view
    }
}

impl ReceivedView {
    fn say_left(&mut self) {
        self.says = format!("{} Left {} files for the others.", self.says, self.left);
    }

    /// Adds what an earlier turn of the same exchange came to.
    pub fn add(&mut self, before: &Self) {
        self.refused |= before.refused;
        self.entries += before.entries;
        self.files += before.files;
        self.left += before.left;
        // Known since a former turn is not known since before.
        self.known = before.known;
        self.says = received_words(self.refused, false, self.entries, self.files, self.known);
        self.say_left();
    }
}

fn received_words(refused: bool, dry_run: bool, entries: u64, files: u64, known: u64) -> String {
    if refused {
        return "Refused: nothing was taken in.".into();
    }
    let verb = if dry_run { "Would receive" } else { "Received" };
    format!(
        "{verb} {entries} new entries and {files} new files; {known} entries were here already."
    )
}

impl From<&Received> for ReceivedView {
    fn from(received: &Received) -> Self {
        Self {
            entries: received.lines as u64,
            known: received.known as u64,
            files: received.files as u64,
            says: format!(
                "Received {} new entries and {} files; {} entries were here already.",
                received.lines, received.files, received.known
            ),
            ..Self::default()
        }
    }
}

impl From<&Packed> for PackedView {
    fn from(packed: &Packed) -> Self {
        let mut says = format!(
            "Packed {} entries and {} files. Anybody can check it without this program.",
            packed.lines, packed.files
        );
        if packed.withheld > 0 {
            says.push_str(&format!(
                " {} files and slips were left out as asked; recordings and notes cannot be cleaned, only left out whole.",
                packed.withheld
            ));
        }
        if packed.uncovered > 0 {
            says.push_str(&format!(
                " {} entries are under no finish yet: finish the walkaround first, so that their place is proven.",
                packed.uncovered
            ));
        }
        Self {
            path: packed.out.clone(),
            entries: packed.lines,
            files: packed.files,
            bytes: packed.bytes,
            withheld: packed.withheld,
            says,
        }
    }
}

/// Most bytes of text that one QR code of the findings holds: version 25 at level M is still read
/// by a phone from another phone's screen (common practice, no source).
const QR_BYTES: usize = 997;

impl Notebook {
    /// The cut of a name; a single finding needs its id.
    ///
    /// # Errors
    /// `BadValue` for a word that is none, `Unknown` for a finding that is not here.
    pub fn cut(&self, aircraft: &Digest, word: &str, finding: Option<&str>) -> Result<Cut> {
        match (word, finding) {
            ("finding", Some(finding)) => {
                let state = self.state(aircraft)?;
                Ok(Cut::Finding(
                    self.finding(&state, finding)?.ids.iter().copied().collect(),
                ))
            }
            ("review", None) => Ok(Cut::Whole("review")),
            ("baseline", None) => Ok(Cut::Whole("baseline")),
            ("handing_over", None) => Ok(Cut::Whole("handing over")),
            ("finding", None) => Err(Error::new(ErrorKind::BadValue, "which finding?")
                .at("cut")
                .hint("hand in its id")),
            _ => Err(Error::new(
                ErrorKind::BadValue,
                format!(
                    "\"{}\" is no cut",
                    word.chars().take(40).collect::<String>()
                ),
            )
            .at("cut")
            .hint("finding with its id, or review, baseline, handing_over alone")),
        }
    }

    /// What can be handed over, and what should be settled first.
    ///
    /// # Errors
    /// `Unknown` for an aircraft that is not here.
    pub fn hand_over_view(&self, aircraft: &Digest) -> Result<HandOverView> {
        let state = self.state(aircraft)?;
        let open = state.findings.iter().filter(|one| one.open).count();
        let unplaced = self.unplaced_view(aircraft)?.captures.len();
        let mut first = Vec::new();
        if self.open_id(&state).is_some() {
            first.push(
                "A walkaround is open: finish it first, so that what it wrote is proven to be there."
                    .to_owned(),
            );
        }
        if unplaced > 0 {
            first.push(format!(
                "{} no place yet: what has none goes along, but nobody will know where it was.",
                if unplaced == 1 {
                    "1 capture has".to_owned()
                } else {
                    format!("{unplaced} captures have")
                }
            ));
        }
        Ok(HandOverView {
            says: format!(
                "{}: {} of {}.",
                state.registration,
                counted(open, "open finding"),
                counted(state.findings.len(), "finding")
            ),
            cuts: cut_choices()
                .into_iter()
                .filter(|cut| cut.key != "finding")
                .collect(),
            first,
            left_out: vec![
                "Names and certificate numbers can stay out: who wrote what is then told by keys alone.".to_owned(),
                "Positions can stay out: pictures go along without theirs and are still proven. Recordings and notes cannot be cleaned, only left out whole.".to_owned(),
            ],
            law: super::start::LAW.to_owned(),
        })
    }

    /// Finishes the open walkaround and says what the proof is worth.
    ///
    /// # Errors
    /// `WrongState` where none is open.
    pub fn finish_view(&mut self, aircraft: &Digest) -> Result<FinishView> {
        let line = self.finish_walkaround(aircraft)?;
        let code = ProofCode::of(&line.0);
        Ok(FinishView {
            entry: line.hex(),
            qr_svg: crate::record::proof::qr::svg(&code)?,
            proof_code: code.to_string(),
            says: "Finished. Written down elsewhere, this code shows that the record up to here was not changed since; it does not show that a picture is true.".into(),
        })
    }

    /// The open findings as one QR code: registration, then a line each, the gravest first; what
    /// does not fit is counted.
    ///
    /// # Errors
    /// `TooLarge` if not even the heading fits.
    pub fn findings_qr(&self, aircraft: &Digest) -> Result<QrView> {
        let state = self.state(aircraft)?;
        let lines = self.before_flight_view(aircraft)?.findings;
        let mut text = format!("Witnessmark open findings {}", state.registration);
        let mut held = 0usize;
        for line in &lines {
            let row = format!("\n{} {}; {}", line.short, line.title, line.says);
            // Room for the count of what is left out.
            if text.len() + row.len() > QR_BYTES - 24 {
                break;
            }
            text.push_str(&row);
            held += 1;
        }
        let left = lines.len() - held;
        if left > 0 {
            text.push_str(&format!("\nand {left} more"));
        }
        let code = qrcode::QrCode::with_error_correction_level(text.as_bytes(), qrcode::EcLevel::M)
            .map_err(|_| Error::new(ErrorKind::TooLarge, "the findings fit no QR code"))?;
        let svg = code
            .render::<qrcode::render::svg::Color<'_>>()
            .min_dimensions(320, 320)
            .build();
        Ok(QrView {
            svg,
            text,
            findings: number(held),
            left_out: number(left),
            says: if left == 0 {
                format!("{} in this code", counted(held, "open finding"))
            } else {
                format!(
                    "{} in this code; {left} more did not fit: hand over a pack",
                    counted(held, "open finding")
                )
            },
        })
    }
}
