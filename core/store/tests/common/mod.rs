//! A store in memory that counts requests and does wrong on purpose, and invented people who meet in
//! it. Truth by construction.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use async_trait::async_trait;
use futures_util::StreamExt;
use futures_util::stream::BoxStream;
use object_store::memory::InMemory;
use object_store::path::Path as Key;
use object_store::{
    CopyOptions, Error, GetOptions, GetResult, ListResult, MultipartUpload, ObjectMeta,
    ObjectStore, PutMode, PutMultipartOptions, PutOptions, PutPayload, PutResult, Result,
};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use witnessmark_core::notebook::{
    KeySource, NewFinding, NewSighting, NewWalkaround, Notebook, Place,
};
use witnessmark_core::record::{At, Digest};
use witnessmark_core::world::{GivenClock, SeededEntropy, SystemFiles, World};
use witnessmark_store::{Address, Bucket};

/// What goes wrong at one request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Nothing.
    None,
    /// The request fails, nothing is done.
    Fails(u64),
    /// It is done, the reply is lost.
    ReplyLost(u64),
    /// From here on nothing works: the program was killed, or the network is gone.
    Gone(u64),
    /// It is done, its reply and everything after are lost.
    DoneThenGone(u64),
}

/// The store.
#[derive(Debug)]
pub struct Odd {
    /// What is really there.
    pub inner: InMemory,
    fault: Fault,
    /// Takes a wish not to overwrite for none, as one server does.
    deaf: bool,
    /// Requests; a listing counts one for each thousand names begun.
    pub requests: AtomicU64,
    /// Requests by kind.
    pub kinds: Mutex<BTreeMap<&'static str, u64>>,
    /// Names whose writing was acknowledged.
    pub acknowledged: Mutex<Vec<String>>,
    /// Bytes up and down, without headers.
    pub bytes: AtomicU64,
    /// So many uploads in parts are acknowledged and end up under another name.
    pub mislaid: AtomicU64,
}

impl Odd {
    /// Takes over what a store holds.
    pub fn over(inner: InMemory, fault: Fault) -> Self {
        Self {
            inner,
            fault,
            deaf: false,
            requests: AtomicU64::new(0),
            kinds: Mutex::default(),
            acknowledged: Mutex::default(),
            bytes: AtomicU64::new(0),
            mislaid: AtomicU64::new(0),
        }
    }

    /// One that works.
    pub fn good() -> Self {
        Self::over(InMemory::new(), Fault::None)
    }

    /// One that ignores put-if-absent.
    pub fn deaf() -> Self {
        Self {
            deaf: true,
            ..Self::good()
        }
    }

    /// Requests so far.
    pub fn count(&self) -> u64 {
        self.requests.load(Ordering::SeqCst)
    }

    fn lost() -> Error {
        Error::Generic {
            store: "odd",
            source: "the connection was closed".into(),
        }
    }

    /// Before the work: fails or not. After it: the reply is lost or not.
    fn enter(&self, kind: &'static str) -> Result<bool> {
        let n = self.requests.fetch_add(1, Ordering::SeqCst) + 1;
        *self.kinds.lock().unwrap().entry(kind).or_default() += 1;
        match self.fault {
            Fault::Fails(at) if n == at => Err(Self::lost()),
            Fault::Gone(at) if n >= at => Err(Self::lost()),
            Fault::DoneThenGone(at) if n > at => Err(Self::lost()),
            Fault::ReplyLost(at) | Fault::DoneThenGone(at) if n == at => Ok(false),
            _ => Ok(true),
        }
    }
}

impl std::fmt::Display for Odd {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "odd")
    }
}

#[async_trait]
impl ObjectStore for Odd {
    async fn put_opts(&self, at: &Key, payload: PutPayload, opts: PutOptions) -> Result<PutResult> {
        let heard = self.enter("put")?;
        self.bytes
            .fetch_add(payload.content_length() as u64, Ordering::SeqCst);
        let opts = if self.deaf && opts.mode == PutMode::Create {
            PutMode::Overwrite.into()
        } else {
            opts
        };
        let done = self.inner.put_opts(at, payload, opts).await;
        if !heard {
            return Err(Self::lost());
        }
        if done.is_ok() {
            self.acknowledged.lock().unwrap().push(at.to_string());
        }
        done
    }

    async fn put_multipart_opts(
        &self,
        at: &Key,
        opts: PutMultipartOptions,
    ) -> Result<Box<dyn MultipartUpload>> {
        self.enter("multipart")?;
        let left = self
            .mislaid
            .fetch_update(Ordering::SeqCst, Ordering::SeqCst, |n| n.checked_sub(1));
        if left.is_ok() {
            let wrong = Key::from(format!("{at}.mislaid"));
            return self.inner.put_multipart_opts(&wrong, opts).await;
        }
        self.inner.put_multipart_opts(at, opts).await
    }

    async fn get_opts(&self, at: &Key, options: GetOptions) -> Result<GetResult> {
        let heard = self.enter("get")?;
        let got = self.inner.get_opts(at, options).await;
        if let Ok(got) = &got {
            self.bytes.fetch_add(got.meta.size, Ordering::SeqCst);
        }
        if heard { got } else { Err(Self::lost()) }
    }

    fn delete_stream(
        &self,
        keys: BoxStream<'static, Result<Key>>,
    ) -> BoxStream<'static, Result<Key>> {
        self.inner.delete_stream(keys)
    }

    fn list(&self, prefix: Option<&Key>) -> BoxStream<'static, Result<ObjectMeta>> {
        match self.enter("list") {
            Ok(true) => {
                let mut names = Vec::new();
                let mut stream = self.inner.list(prefix);
                // In memory nothing is awaited for.
                while let Some(Some(name)) = futures_util::FutureExt::now_or_never(stream.next()) {
                    names.push(name);
                }
                let pages = (names.len() as u64).saturating_sub(1) / 1000;
                self.requests.fetch_add(pages, Ordering::SeqCst);
                *self.kinds.lock().unwrap().entry("list").or_default() += pages;
                futures_util::stream::iter(names).boxed()
            }
            // A page may come before the connection goes.
            Ok(false) => {
                let some = self.inner.list(prefix).take(1);
                some.chain(futures_util::stream::iter([Err(Self::lost())]))
                    .boxed()
            }
            Err(error) => futures_util::stream::iter([Err(error)]).boxed(),
        }
    }

    async fn list_with_delimiter(&self, prefix: Option<&Key>) -> Result<ListResult> {
        self.enter("list")?;
        self.inner.list_with_delimiter(prefix).await
    }

    async fn copy_opts(&self, from: &Key, to: &Key, options: CopyOptions) -> Result<()> {
        self.enter("copy")?;
        self.inner.copy_opts(from, to, options).await
    }
}

/// A bucket over it.
pub fn bucket(store: &Arc<Odd>) -> Bucket {
    let address = Address::parse("s3://club/notebooks", &|_| None).unwrap();
    Bucket::over(address, vec![store.clone()]).unwrap()
}

/// Everything that is there, by name.
pub fn everything(store: &InMemory) -> BTreeMap<String, Vec<u8>> {
    let mut out = BTreeMap::new();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .unwrap();
    runtime.block_on(async {
        let mut names = store.list(None);
        while let Some(meta) = names.next().await {
            let key = meta.unwrap().location;
            let bytes = store.get_opts(&key, GetOptions::default()).await.unwrap();
            out.insert(key.to_string(), bytes.bytes().await.unwrap().to_vec());
        }
    });
    out
}

/// Puts an object there behind everybody's back.
pub fn lay(store: &InMemory, name: &str, bytes: &[u8]) {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .unwrap();
    let key = Key::from(format!("notebooks/{name}"));
    let put = store.put_opts(&key, bytes.to_vec().into(), PutOptions::default());
    runtime.block_on(put).unwrap();
}

/// Clock that stands, randomness from a seed.
pub fn world(seed: u64) -> World {
    World {
        clock: Arc::new(GivenClock::new(
            "2026-05-03T09:10:00+02:00".parse::<At>().unwrap().instant(),
        )),
        entropy: Arc::new(SeededEntropy::new(seed)),
        files: Arc::new(SystemFiles),
    }
}

/// A person with a notebook.
pub fn person(root: &Path, seed: u64) -> Notebook {
    let name = format!("Invented {seed}");
    Notebook::init(root, world(seed), &name, "owner", KeySource::File).unwrap()
}

/// The same one after a restart.
pub fn again(root: &Path, seed: u64) -> Notebook {
    Notebook::open(root, world(seed + 1_000_000), KeySource::File).unwrap()
}

/// A small JPEG drawn here, each number another one.
pub fn photo(folder: &Path, n: u32) -> PathBuf {
    let picture = image::GrayImage::from_fn(16, 16, |x, y| {
        image::Luma([(x.wrapping_mul(n) ^ y.wrapping_mul(n >> 8) ^ (n >> 4)) as u8])
    });
    let file = folder.join(format!("{n}.jpg"));
    picture.save(&file).unwrap();
    file
}

/// An aircraft of one's own.
pub fn aircraft(notebook: &mut Notebook, registration: &str) -> Digest {
    notebook
        .add_aircraft(
            registration,
            "invented",
            None,
            "high_wing_strutted_fixed",
            false,
        )
        .unwrap()
}

/// A finished walkaround with one finding and that many photos.
pub fn walk(notebook: &mut Notebook, aircraft: &Digest, scratch: &Path, photos: &[u32]) {
    let new = NewWalkaround {
        purpose: Some("routine".to_owned()),
        hours: Some("1200.5".to_owned()),
        ..NewWalkaround::default()
    };
    notebook.start_walkaround(aircraft, &new).unwrap();
    let mut evidence = Vec::new();
    for n in photos {
        let place = Place {
            aircraft: Some(*aircraft),
            zone: Some("733".to_owned()),
            ..Place::default()
        };
        evidence.push(
            notebook
                .take_photo(&photo(scratch, *n), &place)
                .unwrap()
                .entry,
        );
    }
    let finding = NewFinding {
        zone: "733".to_owned(),
        condition: "crack".to_owned(),
        ..NewFinding::default()
    };
    let sighting = NewSighting {
        evidence,
        ..NewSighting::default()
    };
    notebook
        .open_finding(aircraft, &finding, &sighting)
        .unwrap();
    notebook.finish_walkaround(aircraft).unwrap();
}

/// Everything a notebook holds that others may have: lines, originals and slips.
pub fn holdings(root: &Path) -> Vec<String> {
    let mut out = Vec::new();
    let mut folders = vec![
        root.join("record"),
        root.join("evidence"),
        root.join("slips"),
    ];
    while let Some(folder) = folders.pop() {
        let Ok(list) = std::fs::read_dir(&folder) else {
            continue;
        };
        for entry in list {
            let path = entry.unwrap().path();
            if path.is_dir() {
                // Chains of what has no aircraft yet stay with their author.
                if path.file_name().unwrap().to_string_lossy() != "0".repeat(64) {
                    folders.push(path);
                }
            } else if path.extension().is_some_and(|e| e == "jsonl") {
                let text = std::fs::read_to_string(&path).unwrap();
                out.extend(text.lines().map(|line| Digest::of(line.as_bytes()).hex()));
            } else {
                out.push(path.file_name().unwrap().to_string_lossy().into_owned());
            }
        }
    }
    out.sort();
    out.dedup();
    out
}

/// The clock of these tests is handed in, and every report says so: nothing else may be said.
pub fn only_the_clock(rows: &[witnessmark_core::pack::verify::Row]) -> bool {
    rows.iter().all(|row| row.code == "clock_order")
}
