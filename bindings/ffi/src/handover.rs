//! Handing over, receiving, checking.

use std::path::PathBuf;

use witnessmark_core::notebook::Withhold;
use witnessmark_core::notebook::screens::*;
use witnessmark_core::pack::members::Limits;
use witnessmark_core::{Error, Result};

use crate::file::{Source, folder as named};
use crate::given::FileGiven;
use crate::meeting::ThroughShell;
use crate::notebook::{Made, Notebook};
use crate::trouble::Answer;

/// A scratch folder below the notebook's `incoming`, which is swept at open.
fn scratch(core: &witnessmark_core::notebook::Notebook) -> Result<PathBuf> {
    let folder = core.root().join("incoming").join("handed-in");
    let here = |error: std::io::Error| Error::io(&error, folder.display());
    if folder.exists() {
        std::fs::remove_dir_all(&folder).map_err(here)?;
    }
    std::fs::create_dir_all(&folder).map_err(here)?;
    Ok(folder)
}

/// A refusal or a rehearsal under a wish to stop tells of files that could no longer be opened.
fn taken_in(dry_run: bool) -> impl Fn(&ReceivedView) -> Made {
    move |view| {
        if view.refused || dry_run {
            Made::Nothing
        } else {
            Made::Kept
        }
    }
}

#[uniffi::export]
impl Notebook {
    /// Checks the whole notebook.
    ///
    /// # Errors
    /// `Cancelled`, those of the machine: damage is a row, not an error.
    pub fn verify(&self) -> Answer<VerifyView> {
        self.long(
            |_| Made::Nothing,
            |open| open.core.verify().map(|report| (&report).into()),
        )
    }

    /// Before handing over: what can be, what should be settled first, what can stay out.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn hand_over(&self, aircraft: String) -> Answer<HandOverView> {
        self.core(|core| core.hand_over_view(&digest(&aircraft, "aircraft")?))
    }

    /// Makes a pack. `cut` is one of `cuts()`; `out` names a folder, or a zip by its ending, and must
    /// not exist. Names and positions can be left out.
    ///
    /// # Errors
    /// `Input` for an unknown cut or a name that is taken, `Damaged`, `NoSpace`, `Cancelled`: then there
    /// is no pack, and nothing half-made.
    pub fn pack(
        &self,
        aircraft: String,
        cut: String,
        finding: Option<String>,
        withhold_people: bool,
        withhold_location: bool,
        out: String,
    ) -> Answer<PackedView> {
        self.long(
            |_| Made::Kept,
            |open| {
                let core = &mut open.core;
                let aircraft = digest(&aircraft, "aircraft")?;
                let cut = core.cut(&aircraft, &cut, finding.as_deref())?;
                let ask = witnessmark_core::report::Ask {
                    originals: Some("../evidence".to_owned()),
                    ..witnessmark_core::report::Ask::default()
                };
                let withhold = Withhold {
                    people: withhold_people,
                    location: withhold_location,
                };
                core.pack(
                    &aircraft,
                    cut,
                    withhold,
                    named(&out)?,
                    &|notebook, aircraft| witnessmark_core::report::build(notebook, aircraft, &ask),
                )
                .map(|packed| (&packed).into())
            },
        )
    }

    /// Writes the page alone: one HTML file that opens without a network.
    ///
    /// # Errors
    /// `Input` where a path is taken, `NoSpace`.
    pub fn page(&self, aircraft: String, out: Source) -> Answer<()> {
        self.core(|core| {
            let text = witnessmark_core::report::build(
                core,
                &digest(&aircraft, "aircraft")?,
                &witnessmark_core::report::Ask::default(),
            )?;
            let mut file = out.create()?;
            std::io::Write::write_all(&mut file, text.as_bytes())
                .map_err(|error| Error::io(&error, "the page"))
        })
    }

    /// Receives a pack: folder or zip by path, zip by descriptor. `dry_run` only says what would come.
    ///
    /// # Errors
    /// `Input` for what is no pack; a pack that does not verify is an answer with `refused`.
    /// `Cancelled`: what had come in by then is whole, receiving it again takes the rest.
    pub fn receive(&self, pack: Source, dry_run: bool) -> Answer<ReceivedView> {
        let stop = self.stop.clone();
        self.long(taken_in(dry_run), |open| {
            let core = &mut open.core;
            let folder = scratch(core)?;
            let outcome = pack
                .as_path(&folder, Limits::default().total, &stop)
                .and_then(|path| core.receive_pack(&path, dry_run));
            std::fs::remove_dir_all(&folder)
                .map_err(|error| Error::io(&error, folder.display()))?;
            outcome.map(|outcome| (&outcome).into())
        })
    }

    /// Receives another notebook's folder, a backup for instance.
    ///
    /// # Errors
    /// `NoNotebook`, `Cancelled` as for [`receive`](Self::receive).
    pub fn receive_notebook(&self, folder: String) -> Answer<ReceivedView> {
        self.long(taken_in(false), |open| {
            open.core
                .receive_folder(named(&folder)?)
                .map(|received| (&received).into())
        })
    }

    /// Meets the others in a shared folder, in one action. `dry_run` only says what would move.
    ///
    /// # Errors
    /// `Input`, `NoPermission`, `NoSpace`, `Cancelled` as for [`receive`](Self::receive).
    pub fn exchange(&self, folder: String, dry_run: bool) -> Answer<ReceivedView> {
        self.long(taken_in(dry_run), |open| {
            open.core
                .exchange_folder(named(&folder)?, dry_run)
                .map(|met| (&met).into())
        })
    }

    /// One turn of an exchange through a place that only the shell can reach (a picked folder). `there`
    /// is everything that lies there now, `folder` an empty folder of the shell's own at the first turn
    /// and the same one at the next. Do the steps in order, pass over a file that is no longer there,
    /// and hand in the next turn with a fresh `there` until `done`; then delete `folder`. The core
    /// verifies every file that it takes in, so a half-copied one does no harm.
    ///
    /// # Errors
    /// `Input`, `NoSpace`, `Cancelled`; what was done by then is whole, and beginning anew completes it.
    pub fn exchange_turn(&self, there: Vec<FileGiven>, folder: String) -> Answer<ExchangeView> {
        let made = |view: &ExchangeView| taken_in(false)(&view.received);
        self.long(made, |open| {
            let folder = named(&folder)?;
            let mut place = ThroughShell::new(folder, there);
            let outcome = open.core.exchange(&mut place, false);
            let (steps, done) = place.steps();
            let mut now: ReceivedView = match &outcome {
                Ok(met) => met.into(),
                Err(_) => {
                    open.met = None;
                    ReceivedView::default()
                }
            };
            outcome?;
            if let Some(before) = &open.met {
                now.add(before);
            }
            open.met = (!done).then(|| now.clone());
            Ok(ExchangeView {
                steps,
                done,
                received: now,
            })
        })
    }

    /// Records the last line of every other author's chain; gives how many.
    ///
    /// # Errors
    /// `Damaged` where a chain does not verify.
    pub fn vouch(&self, aircraft: String) -> Answer<u32> {
        self.core(|core| {
            let made = core.vouch(&digest(&aircraft, "aircraft")?)?;
            Ok(u32::try_from(made.len()).unwrap_or(u32::MAX))
        })
    }

    /// The open findings as one QR code.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn findings_qr(&self, aircraft: String) -> Answer<QrView> {
        self.core(|core| core.findings_qr(&digest(&aircraft, "aircraft")?))
    }

    /// Open findings to read before a flight.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn before_flight(&self, aircraft: String) -> Answer<BeforeFlightView> {
        self.core(|core| core.before_flight_view(&digest(&aircraft, "aircraft")?))
    }

    /// Writes down that they were read.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn read_before_flight(&self, aircraft: String) -> Answer<String> {
        self.core(|core| {
            core.read_before_flight(&digest(&aircraft, "aircraft")?)
                .map(|id| id.hex())
        })
    }

    /// Copies the notebook without its key to a folder that must not exist; gives how many files.
    ///
    /// # Errors
    /// `Input` where the name is taken, `Damaged`, `NoSpace`, `Cancelled`: then there is none.
    pub fn backup(&self, folder: String) -> Answer<u64> {
        self.long(|_| Made::Kept, |open| open.core.backup(named(&folder)?))
    }
}
