//! A meeting place that only the shell can reach: a folder that a person picked on a phone.
//!
//! No call goes back to the shell (one under a lock could wait for itself for ever). Instead the
//! core's one planner runs over the list that the shell handed in; what it wants and is not copied yet
//! becomes a step, and what it leaves becomes a step as well. A file that is not there yet is nothing
//! special to the planner, so the next turn goes on where this one stopped.

use std::fs::File;
use std::path::{Path, PathBuf};

use witnessmark_core::notebook::screens::ExchangeStep;
use witnessmark_core::pack::exchange::{Listed, Offer, Place, Sink};
use witnessmark_core::{Error, Result};

use crate::given::FileGiven;

pub(crate) struct ThroughShell<'a> {
    folder: &'a Path,
    there: Vec<FileGiven>,
    get: Vec<ExchangeStep>,
    put: Vec<ExchangeStep>,
}

impl<'a> ThroughShell<'a> {
    pub(crate) fn new(folder: &'a Path, there: Vec<FileGiven>) -> Self {
        Self {
            folder,
            there,
            get: Vec::new(),
            put: Vec::new(),
        }
    }

    /// Steps of this turn, and whether it is the last one.
    pub(crate) fn steps(self) -> (Vec<ExchangeStep>, bool) {
        let done = self.get.is_empty();
        (self.get.into_iter().chain(self.put).collect(), done)
    }

    /// Where a file lies on its way: one flat folder, so that no name leads out of it.
    fn on_its_way(&self, to: &str, name: &str) -> PathBuf {
        self.folder
            .join(format!("{to}-{}", name.replace(['/', '\\'], "-")))
    }
}

impl Place for ThroughShell<'_> {
    fn words(&self) -> String {
        "the picked folder".to_owned()
    }

    fn list(&mut self, prefix: &str) -> Result<Vec<Listed>> {
        let mut listed: Vec<Listed> = self
            .there
            .iter()
            .filter(|file| file.name.starts_with(prefix))
            .map(|file| Listed {
                name: file.name.clone(),
                bytes: file.bytes,
            })
            .collect();
        listed.sort();
        Ok(listed)
    }

    fn get(&mut self, wanted: &[Listed], sink: &mut Sink<'_>) -> Result<()> {
        for listed in wanted {
            let path = self.on_its_way("in", &listed.name);
            match File::open(&path) {
                Ok(mut file) => sink(&listed.name, &mut file)?,
                Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                    self.get.push(ExchangeStep {
                        get: true,
                        name: listed.name.clone(),
                        path: path.display().to_string(),
                    });
                }
                Err(error) => return Err(Error::io(&error, path.display())),
            }
        }
        Ok(())
    }

    fn put(&mut self, offers: &[(String, Offer)]) -> Result<()> {
        for (name, offer) in offers {
            let path = match offer {
                Offer::File(path) => path.clone(),
                Offer::Bytes(bytes) => {
                    let path = self.on_its_way("out", name);
                    std::fs::write(&path, bytes)
                        .map_err(|error| Error::io(&error, path.display()))?;
                    path
                }
            };
            self.put.push(ExchangeStep {
                get: false,
                name: name.clone(),
                path: path.display().to_string(),
            });
        }
        Ok(())
    }
}
