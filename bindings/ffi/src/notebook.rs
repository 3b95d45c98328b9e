//! The notebook: opened, shut, captures, lists.

use std::io;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

use witnessmark_core::notebook::screens::*;
use witnessmark_core::notebook::{KeySource, Notebook as Core};
use witnessmark_core::record::{Digest, parse_when};
use witnessmark_core::speech::Vocabulary;
use witnessmark_core::stoppable::{Stop, Stoppable};
use witnessmark_core::world::{
    Entropy, GivenClock, SeededEntropy, SystemClock, SystemFiles, World,
};
use witnessmark_core::{Error, ErrorKind, Result};
use zeroize::Zeroize;

use crate::file::{Source, folder as named};
use crate::given::*;
use crate::trouble::{Answer, Trouble, closed};

static ALIVE: AtomicU64 = AtomicU64::new(0);

pub(crate) fn live() -> u64 {
    ALIVE.load(Ordering::SeqCst)
}

/// Counts an object while it lives.
pub(crate) struct Alive;

impl Alive {
    pub(crate) fn new() -> Self {
        ALIVE.fetch_add(1, Ordering::SeqCst);
        Self
    }
}

impl Drop for Alive {
    fn drop(&mut self) {
        ALIVE.fetch_sub(1, Ordering::SeqCst);
    }
}

struct SystemEntropy;

impl Entropy for SystemEntropy {
    fn fill(&self, bytes: &mut [u8]) -> io::Result<()> {
        getrandom::fill(bytes).map_err(|error| io::Error::other(error.to_string()))
    }
}

/// The machine's own clock, randomness and files.
pub(crate) fn world() -> World {
    World {
        clock: Arc::new(SystemClock),
        entropy: Arc::new(SystemEntropy),
        files: Arc::new(SystemFiles),
    }
}

/// The same, with files whose long use can be watched and stopped.
fn stoppable(world: World) -> (World, Arc<Stop>) {
    let stop = Arc::new(Stop::default());
    let files = Arc::new(Stoppable::new(world.files, stop.clone()));
    (World { files, ..world }, stop)
}

/// What became of a long work that was asked to stop while it ran.
pub(crate) enum Made {
    /// Something that stays: it was finished before the wish arrived.
    Kept,
    /// Nothing: what it answers would tell of files that it could no longer open.
    Nothing,
}

pub(crate) struct Open {
    pub(crate) core: Core,
    /// The vocabulary of the layout file named: costly to make, the same for every saying.
    words: Option<(Option<Digest>, Arc<Vocabulary>)>,
    /// What an exchange in turns has come to so far.
    pub(crate) met: Option<ReceivedView>,
}

impl Open {
    pub(crate) fn vocabulary(&mut self, aircraft: &Digest) -> Result<Arc<Vocabulary>> {
        let key = self.core.layout_key(aircraft)?;
        if let Some((known, words)) = &self.words
            && *known == key
        {
            return Ok(words.clone());
        }
        let words = Arc::new(self.core.vocabulary(aircraft)?);
        self.words = Some((key, words.clone()));
        Ok(words)
    }
}

/// How far a long work has come: counts, and no promise of how much is left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Record)]
pub struct WorkView {
    /// Files opened for reading since it began.
    pub files: u64,
    /// Bytes read since it began.
    pub bytes: u64,
}

/// A notebook. One lock: calls from several threads wait for one another.
#[derive(uniffi::Object)]
pub struct Notebook {
    open: Mutex<Option<Open>>,
    pub(crate) stop: Arc<Stop>,
    clock: Option<Arc<GivenClock>>,
    _alive: Alive,
}

impl Notebook {
    fn hold(core: Core, stop: Arc<Stop>, clock: Option<Arc<GivenClock>>) -> Arc<Self> {
        Arc::new(Self {
            stop,
            open: Mutex::new(Some(Open {
                core,
                words: None,
                met: None,
            })),
            clock,
            _alive: Alive::new(),
        })
    }

    /// Runs one call under the lock. After a panic the notebook is let go of (the record on disk is
    /// whole: a line is either there or not) and has to be opened again.
    pub(crate) fn with<T>(&self, call: impl FnOnce(&mut Open) -> Result<T>) -> Answer<T> {
        let mut guard = match self.open.lock() {
            Ok(guard) => guard,
            Err(poisoned) => {
                self.open.clear_poison();
                let mut guard = poisoned.into_inner();
                *guard = None;
                guard
            }
        };
        match guard.as_mut() {
            Some(open) => call(open).map_err(Trouble::from),
            None => Err(closed("this notebook was shut", "open it again")),
        }
    }

    /// [`core`](Self::core), for work that takes long enough to be watched and stopped. `made` tells
    /// whether an answer stands although somebody asked to stop.
    pub(crate) fn long<T>(
        &self,
        made: impl FnOnce(&T) -> Made,
        call: impl FnOnce(&mut Open) -> Result<T>,
    ) -> Answer<T> {
        self.with(|open| {
            // Ended even where the call panics: captures afterwards are never held up.
            struct Ends<'a>(&'a Stop);
            impl Drop for Ends<'_> {
                fn drop(&mut self) {
                    self.0.end();
                }
            }
            self.stop.begin();
            let ends = Ends(&self.stop);
            let outcome = call(open);
            let asked = self.stop.end();
            drop(ends);
            if !asked {
                return outcome;
            }
            match outcome {
                Ok(value) if matches!(made(&value), Made::Kept) => Ok(value),
                _ => {
                    // What came in by then is in the record; the index follows.
                    open.core.refresh()?;
                    Err(Stop::stopped())
                }
            }
        })
    }

    /// [`with`](Self::with), for calls that need the notebook alone.
    pub(crate) fn core<T>(&self, call: impl FnOnce(&mut Core) -> Result<T>) -> Answer<T> {
        self.with(|open| call(&mut open.core))
    }
}

/// Takes the seed out of what was handed in and wipes that.
fn key(seed: Option<Vec<u8>>) -> Result<KeySource> {
    let Some(mut bytes) = seed else {
        return Ok(KeySource::File);
    };
    let mut seed = [0u8; 32];
    let fits = bytes.len() == seed.len();
    if fits {
        seed.copy_from_slice(&bytes);
    }
    let length = bytes.len();
    bytes.zeroize();
    if !fits {
        return Err(Error::new(
            ErrorKind::BadValue,
            format!("a seed has 32 bytes, this one {length}"),
        )
        .at("seed")
        .hint("hand in the seed as the key store unwrapped it"));
    }
    let source = KeySource::Seed(seed);
    seed.zeroize();
    Ok(source)
}

#[uniffi::export]
impl Notebook {
    /// Makes a notebook in a folder that holds none, and opens it. `seed`: the author's Ed25519 seed,
    /// 32 bytes, unwrapped by the shell, never written; none makes a key file in the folder.
    ///
    /// # Errors
    /// `Input` where one is there already or a name is missing, and those of the machine.
    #[uniffi::constructor]
    pub fn make(folder: String, author: Author, seed: Option<Vec<u8>>) -> Answer<Arc<Self>> {
        let (world, stop) = stoppable(world());
        let core = Core::init(
            named(&folder)?,
            world,
            &author.name,
            &author.role,
            key(seed)?,
        )?;
        Ok(Self::hold(core, stop, None))
    }

    /// Opens for writing. `seed` as for [`make`](Self::make).
    ///
    /// # Errors
    /// `NoNotebook`, `Busy`, `Damaged`, `Newer`, `Input` for a seed of another length.
    #[uniffi::constructor]
    pub fn open(folder: String, seed: Option<Vec<u8>>) -> Answer<Arc<Self>> {
        let (world, stop) = stoppable(world());
        let core = Core::open(named(&folder)?, world, key(seed)?)?;
        Ok(Self::hold(core, stop, None))
    }

    /// Opens for reading only: no key is needed, a writer may be beside it.
    ///
    /// # Errors
    /// `NoNotebook`, `Damaged`, `Newer`.
    #[uniffi::constructor]
    pub fn read(folder: String) -> Answer<Arc<Self>> {
        let (world, stop) = stoppable(world());
        Ok(Self::hold(Core::read(named(&folder)?, world)?, stop, None))
    }

    /// For tests of shells: made if it is not there, with a clock given by hand (RFC 3339 with
    /// offset; entries say that it was given) and repeatable randomness.
    ///
    /// # Errors
    /// As [`make`](Self::make) and [`open`](Self::open).
    #[uniffi::constructor]
    pub fn for_tests(
        folder: String,
        author: Author,
        seed: Vec<u8>,
        now: String,
        entropy: u64,
    ) -> Answer<Arc<Self>> {
        let clock = Arc::new(GivenClock::new(parse_when(&now)?));
        let (world, stop) = stoppable(World {
            clock: clock.clone(),
            entropy: Arc::new(SeededEntropy::new(entropy)),
            files: Arc::new(SystemFiles),
        });
        let path = named(&folder)?;
        let core = if path.join("notebook.toml").exists() {
            Core::open(path, world, key(Some(seed))?)?
        } else {
            Core::init(path, world, &author.name, &author.role, key(Some(seed))?)?
        };
        Ok(Self::hold(core, stop, Some(clock)))
    }

    /// For tests of shells: moves the clock that was given.
    ///
    /// # Errors
    /// `Input` for a notebook with the machine's own clock.
    pub fn set_clock(&self, now: String) -> Answer<()> {
        let Some(clock) = &self.clock else {
            return Err(Error::new(
                ErrorKind::Refused,
                "this notebook goes by the machine's clock",
            )
            .into());
        };
        clock.set(parse_when(&now)?);
        Ok(())
    }

    /// Asks the long work that runs to stop: a check, pack, backup, receiving or exchange then ends as
    /// `Cancelled` before its next file. Never waits. What has not begun yet is not stopped: ask again
    /// until the call has returned. A capture is never stopped.
    pub fn cancel(&self) {
        self.stop.ask();
    }

    /// How far the long work that runs (or ran last) has come. Never waits.
    pub fn work(&self) -> WorkView {
        let (files, bytes) = self.stop.come();
        WorkView { files, bytes }
    }

    /// Shuts it: index closed, lock given up, key wiped. Twice is no error; every other call
    /// afterwards is `Closed`.
    ///
    /// # Errors
    /// Those of the machine.
    pub fn shut(&self) -> Answer<()> {
        let open = {
            let mut guard = self
                .open
                .lock()
                .unwrap_or_else(std::sync::PoisonError::into_inner);
            guard.take()
        };
        match open {
            Some(open) => open.core.close().map_err(Trouble::from),
            None => Ok(()),
        }
    }

    /// The aircraft, by registration.
    ///
    /// # Errors
    /// `Closed`.
    pub fn aircraft(&self) -> Answer<Vec<AircraftLine>> {
        self.core(|core| core.aircraft_lines())
    }

    /// Adds an aircraft; `layout` is one of the first start's layouts. A known registration is
    /// refused unless `another`. Gives its id.
    ///
    /// # Errors
    /// `Input`.
    pub fn add_aircraft(
        &self,
        registration: String,
        type_name: String,
        serial: Option<String>,
        layout: String,
        another: bool,
    ) -> Answer<String> {
        self.core(|core| {
            core.add_aircraft(
                &registration,
                &type_name,
                serial.as_deref(),
                &layout,
                another,
            )
            .map(|id| id.hex())
        })
    }

    /// Chooses a layout: built in by name, or the whole text of a person's own file.
    ///
    /// # Errors
    /// `Input` with the first mistake and its line.
    pub fn choose_layout(&self, aircraft: String, layout: String) -> Answer<String> {
        self.core(|core| {
            core.choose_layout(&digest(&aircraft, "aircraft")?, &layout)
                .map(|id| id.hex())
        })
    }

    /// Two descriptions are one aircraft.
    ///
    /// # Errors
    /// `Input`.
    pub fn join_aircraft(&self, aircraft: String, other: String) -> Answer<String> {
        self.core(|core| {
            core.join_aircraft(
                &digest(&aircraft, "aircraft")?,
                &digest(&other, "aircraft")?,
            )
            .map(|id| id.hex())
        })
    }

    /// Settings, and where the data is.
    ///
    /// # Errors
    /// `Closed`.
    pub fn settings(&self) -> Answer<SettingsView> {
        self.core(|core| core.settings_view())
    }

    /// Takes in a photo. When it returns, the photo survives a power cut.
    ///
    /// # Errors
    /// `Input` past 300 MB or where the place is unknown, `NoSpace`, `NoPermission`.
    pub fn take_photo(&self, photo: Source, place: PlaceGiven) -> Answer<CapturedView> {
        self.core(|core| {
            let place = place.place(core)?;
            let (mut file, name) = photo.open()?;
            core.take_photo_stream(&mut file, &name, &place)
                .map(|captured| (&captured).into())
        })
    }

    /// What a photo that was kept looks like, sentences: not sharp, too dark, like the one before. It
    /// decodes the photo, so ask for it after the person has moved on; empty for nothing to say.
    ///
    /// # Errors
    /// `Input` for what is no photo that can be shown.
    pub fn advice(&self, photo: String) -> Answer<Vec<String>> {
        self.core(|core| {
            let advice = core.advice(&digest(&photo, "photo")?)?;
            Ok(advice.iter().map(|one| sentence(&one.says)).collect())
        })
    }

    /// Takes in a recording.
    ///
    /// # Errors
    /// As [`take_photo`](Self::take_photo).
    pub fn take_voice(&self, voice: Source, place: PlaceGiven) -> Answer<CapturedView> {
        self.core(|core| {
            let place = place.place(core)?;
            let (mut file, name) = voice.open()?;
            core.take_voice_stream(&mut file, &name, &place)
                .map(|captured| (&captured).into())
        })
    }

    /// Takes in a paper: log_page, data_plate, registration, meter, list, other.
    ///
    /// # Errors
    /// As [`take_photo`](Self::take_photo).
    pub fn take_paper(
        &self,
        paper: Source,
        kind: Option<String>,
        place: PlaceGiven,
    ) -> Answer<CapturedView> {
        self.core(|core| {
            let place = place.place(core)?;
            let (mut file, name) = paper.open()?;
            core.take_paper_stream(&mut file, &name, kind.as_deref(), &place)
                .map(|captured| (&captured).into())
        })
    }

    /// Writes a note.
    ///
    /// # Errors
    /// `Input` for an empty one or one past a line's 64 KiB.
    pub fn write_note(&self, text: String, place: PlaceGiven) -> Answer<CapturedView> {
        self.core(|core| {
            let place = place.place(core)?;
            core.write_note(&text, &place)
                .map(|captured| (&captured).into())
        })
    }

    /// Adds the words of a recording; `engine` is the recogniser's name or `typed`.
    ///
    /// # Errors
    /// `Input` where the recording is not here.
    pub fn add_transcript(
        &self,
        voice: String,
        text: String,
        engine: String,
        version: Option<String>,
        language: Option<String>,
    ) -> Answer<String> {
        self.core(|core| {
            core.add_transcript(
                &digest(&voice, "recording")?,
                &text,
                &engine,
                version.as_deref(),
                language.as_deref(),
            )
            .map(|id| id.hex())
        })
    }

    /// What waits for a place.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn unplaced(&self, aircraft: String) -> Answer<UnplacedView> {
        self.core(|core| core.unplaced_view(&digest(&aircraft, "aircraft")?))
    }

    /// Hangs a capture on a zone, a finding or an overall view; a loose one comes to the aircraft.
    ///
    /// # Errors
    /// `Input`.
    pub fn place(&self, entry: String, place: PlaceGiven) -> Answer<String> {
        self.core(|core| {
            let place = place.place(core)?;
            let Some(aircraft) = place.aircraft else {
                return Err(
                    Error::new(ErrorKind::BadValue, "a place needs its aircraft")
                        .at("aircraft")
                        .hint("hand in the aircraft"),
                );
            };
            core.place(
                &aircraft,
                &digest(&entry, "capture")?,
                place.zone.as_deref(),
                place.finding.as_ref(),
                place.view.as_deref(),
            )
            .map(|id| id.hex())
        })
    }

    /// Takes back this author's last entry about an aircraft; it stays in the record, marked.
    ///
    /// # Errors
    /// `Input` where there is nothing to take back.
    pub fn undo(&self, aircraft: String) -> Answer<UndoneView> {
        self.core(|core| {
            let (entry, kind) = core.undo(&digest(&aircraft, "aircraft")?)?;
            Ok(UndoneView {
                entry: entry.hex(),
                says: format!("Taken back: {kind}. It stays in the record, marked as taken back."),
            })
        })
    }

    /// Takes back one entry of this author.
    ///
    /// # Errors
    /// `Input` for another author's entry and for what cannot be taken back.
    pub fn take_back(&self, entry: String, why: Option<String>) -> Answer<String> {
        self.core(|core| {
            core.retract(&digest(&entry, "entry")?, why.as_deref())
                .map(|id| id.hex())
        })
    }
}

#[cfg(feature = "fault")]
#[uniffi::export]
impl Notebook {
    /// For tests of shells: panics inside the core's lock, as a fault of ours would.
    ///
    /// # Errors
    /// `Closed`; else none, it panics.
    #[allow(clippy::panic)]
    pub fn fail_on_purpose(&self) -> Answer<()> {
        self.core(|_| panic!("a fault made on purpose"))
    }
    /// For tests of shells: what a call costs within Rust, so that the price of the door can be told
    /// in one run. `what` is `stop`, `zone` or `photo`; one call for each of `arguments` (stops, zones,
    /// paths). Gives nanoseconds for all of them.
    ///
    /// # Errors
    /// As the calls themselves; `Input` for another word.
    pub fn cost_in_rust(
        &self,
        what: String,
        aircraft: String,
        arguments: Vec<String>,
    ) -> Answer<u64> {
        use std::hint::black_box;
        self.core(|core| {
            let aircraft = digest(&aircraft, "aircraft")?;
            let route = RouteGiven::default().route();
            let place = PlaceGiven {
                aircraft: Some(aircraft.hex()),
                taken: true,
                ..PlaceGiven::default()
            };
            let from = std::time::Instant::now();
            for argument in &arguments {
                match what.as_str() {
                    "stop" => {
                        black_box(core.stop_view(&aircraft, argument, &route)?);
                    }
                    "zone" => {
                        black_box(core.zone_screen(&aircraft, argument)?);
                    }
                    "photo" => {
                        let path = std::path::Path::new(argument);
                        let mut file = std::fs::File::open(path)
                            .map_err(|error| Error::io(&error, path.display()))?;
                        black_box(core.take_photo_stream(
                            &mut file,
                            "photo.jpg",
                            &place.place(core)?,
                        )?);
                    }
                    _ => return Err(Error::new(ErrorKind::Unknown, "stop, zone or photo")),
                }
            }
            Ok(u64::try_from(from.elapsed().as_nanos()).unwrap_or(u64::MAX))
        })
    }
}
