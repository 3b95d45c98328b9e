//! The real world behind the core: clock, randomness, files, and where the notebook is.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use witnessmark_core::notebook::{KeySource, Notebook, find_root};
use witnessmark_core::record::{Digest, parse_when};
use witnessmark_core::world::{
    Clock, Entropy, GivenClock, SeededEntropy, SystemClock, SystemFiles, World,
};
use witnessmark_core::{Error, Result};

struct SystemEntropy;

impl Entropy for SystemEntropy {
    fn fill(&self, bytes: &mut [u8]) -> io::Result<()> {
        getrandom::fill(bytes).map_err(|error| io::Error::other(error.to_string()))
    }
}

/// What the global options say.
pub struct Session {
    /// `-C`.
    pub dir: Option<PathBuf>,
    /// `--now`.
    pub now: Option<String>,
    /// `--seed`.
    pub seed: Option<u64>,
    /// `--aircraft`.
    pub aircraft: Option<String>,
}

impl Session {
    /// Clock, randomness and files as asked for.
    pub fn world(&self) -> Result<World> {
        let clock: Arc<dyn Clock> = match &self.now {
            Some(text) => Arc::new(GivenClock::new(
                parse_when(text).map_err(|error| error.at("--now"))?,
            )),
            None => Arc::new(SystemClock),
        };
        let entropy: Arc<dyn Entropy> = match self.seed {
            Some(seed) => Arc::new(SeededEntropy::new(seed)),
            None => Arc::new(SystemEntropy),
        };
        Ok(World {
            clock,
            entropy,
            files: Arc::new(SystemFiles),
        })
    }

    /// The folder that `-C` names, or the current one.
    pub fn start(&self) -> Result<PathBuf> {
        match &self.dir {
            Some(dir) => Ok(dir.clone()),
            None => std::env::current_dir().map_err(|error| Error::io(&error, "current folder")),
        }
    }

    fn root(&self, world: &World) -> Result<PathBuf> {
        let start = self.start()?;
        if self.dir.is_some() && !world.files.has(&start.join("notebook.toml"))? {
            return find_root(world, Path::new("/nonexistent"))
                .map_err(|error| error.at(start.display()));
        }
        find_root(world, &start)
    }

    /// The notebook's folder.
    pub fn folder(&self) -> Result<PathBuf> {
        self.root(&self.world()?)
    }

    /// The notebook, for writing.
    pub fn open(&self) -> Result<Notebook> {
        let world = self.world()?;
        let root = self.root(&world)?;
        Notebook::open(&root, world, KeySource::File)
    }

    /// The notebook, for reading.
    pub fn read(&self) -> Result<Notebook> {
        let world = self.world()?;
        let root = self.root(&world)?;
        Notebook::read(&root, world)
    }

    /// The aircraft that is meant.
    pub fn the_aircraft(&self, notebook: &Notebook) -> Result<Digest> {
        notebook.the_aircraft(self.aircraft.as_deref())
    }
}
