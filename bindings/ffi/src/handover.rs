//! Handing over, receiving, checking.

use std::path::{Path, PathBuf};

use witnessmark_core::notebook::Withhold;
use witnessmark_core::notebook::screens::*;
use witnessmark_core::{Error, Result};

use crate::file::Source;
use crate::notebook::Notebook;
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

#[uniffi::export]
impl Notebook {
    /// Checks the whole notebook.
    ///
    /// # Errors
    /// Those of the machine: damage is a row, not an error.
    pub fn verify(&self) -> Answer<VerifyView> {
        self.core(|core| core.verify().map(|report| (&report).into()))
    }

    /// Makes a pack. `cut` is one of `cuts()`; `out` names a folder, or a zip by its ending, and must
    /// not exist. Names and positions can be left out.
    ///
    /// # Errors
    /// `Input` for an unknown cut or a name that is taken, `Damaged`, `NoSpace`.
    pub fn pack(
        &self,
        aircraft: String,
        cut: String,
        finding: Option<String>,
        withhold_people: bool,
        withhold_location: bool,
        out: String,
    ) -> Answer<PackedView> {
        self.core(|core| {
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
                Path::new(&out),
                &|notebook, aircraft| witnessmark_core::report::build(notebook, aircraft, &ask),
            )
            .map(|packed| (&packed).into())
        })
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
    pub fn receive(&self, pack: Source, dry_run: bool) -> Answer<ReceivedView> {
        self.core(|core| {
            let folder = scratch(core)?;
            let outcome = pack
                .as_path(&folder)
                .and_then(|path| core.receive_pack(&path, dry_run));
            std::fs::remove_dir_all(&folder)
                .map_err(|error| Error::io(&error, folder.display()))?;
            outcome.map(|outcome| (&outcome).into())
        })
    }

    /// Receives another notebook's folder, a backup for instance.
    ///
    /// # Errors
    /// `NoNotebook`.
    pub fn receive_notebook(&self, folder: String) -> Answer<ReceivedView> {
        self.core(|core| {
            core.receive_folder(Path::new(&folder))
                .map(|received| (&received).into())
        })
    }

    /// Meets the others in a shared folder, in one action. `dry_run` only says what would move.
    ///
    /// # Errors
    /// `Input`, `NoPermission`, `NoSpace`.
    pub fn exchange(&self, folder: String, dry_run: bool) -> Answer<ReceivedView> {
        self.core(|core| {
            core.exchange_folder(Path::new(&folder), dry_run)
                .map(|met| (&met).into())
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
    /// `Input` where the name is taken, `Damaged`, `NoSpace`.
    pub fn backup(&self, folder: String) -> Answer<u64> {
        self.core(|core| core.backup(Path::new(&folder)))
    }
}
