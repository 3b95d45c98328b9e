//! An S3 bucket as a meeting place.

use crate::address::Address;
use crate::trouble;
use futures_util::StreamExt;
use object_store::aws::AmazonS3Builder;
use object_store::path::Path as Key;
use object_store::{
    BackoffConfig, ClientOptions, ObjectStore, ObjectStoreExt, PutMode, PutOptions, PutPayload,
    RetryConfig, WriteMultipart,
};
use sha2::{Digest as _, Sha256};
use std::future::Future;
use std::io::Read;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::runtime::Runtime;
use witnessmark_core::pack::exchange::{Listed, Offer, Place, Sink, names};
use witnessmark_core::record::Digest;
use witnessmark_core::{Error, ErrorKind, Result};

/// Files up to this size move whole and several at once; larger ones in parts, one at a time.
const SMALL: u64 = 16 << 20;
/// How many small files are on their way together.
const TOGETHER: usize = 8;
/// How often the list of gateways is gone through before giving up.
const ROUNDS: usize = 2;

type Answer<T> = std::result::Result<T, object_store::Error>;

/// A bucket that is open.
pub struct Bucket {
    address: Address,
    thorough: bool,
    inner: Arc<Inner>,
    runtime: Runtime,
}

struct Inner {
    gateways: Vec<Arc<dyn ObjectStore>>,
    /// The one that answered last.
    good: AtomicUsize,
    /// Requests made, retries of the library below not counted.
    requests: AtomicU64,
    prefix: String,
}

impl Bucket {
    /// Opens a bucket with the credentials of the environment. Nothing is asked of it yet.
    ///
    /// # Errors
    /// `BadValue` for settings that cannot be used.
    pub fn open(address: Address) -> Result<Self> {
        let ends: Vec<Option<&String>> = if address.endpoints.is_empty() {
            vec![None]
        } else {
            address.endpoints.iter().map(Some).collect()
        };
        // Once a process; where somebody has chosen one already, theirs stays.
        let _ = rustls::crypto::ring::default_provider().install_default();
        let mut gateways: Vec<Arc<dyn ObjectStore>> = Vec::new();
        for end in ends {
            let mut builder = AmazonS3Builder::from_env()
                .with_bucket_name(&address.bucket)
                .with_region(&address.region)
                .with_retry(RetryConfig {
                    backoff: BackoffConfig {
                        init_backoff: Duration::from_millis(100),
                        max_backoff: Duration::from_secs(3),
                        base: 2.0,
                    },
                    max_retries: 3,
                    retry_timeout: Duration::from_secs(20),
                })
                .with_client_options(
                    ClientOptions::new()
                        .with_allow_http(true)
                        .with_connect_timeout(Duration::from_secs(5))
                        .with_timeout(Duration::from_secs(120)),
                );
            if let Some(end) = end {
                builder = builder.with_endpoint(end);
            }
            gateways.push(Arc::new(
                builder
                    .build()
                    .map_err(|error| trouble::words(&error, &address.words()))?,
            ));
        }
        Self::over(address, gateways)
    }

    /// A bucket over stores that are open already, each a gateway to the same objects.
    ///
    /// # Errors
    /// Those of the machine.
    pub fn over(address: Address, gateways: Vec<Arc<dyn ObjectStore>>) -> Result<Self> {
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build()
            .map_err(|error| Error::io(&error, "worker threads"))?;
        Ok(Self {
            inner: Arc::new(Inner {
                gateways,
                good: AtomicUsize::new(0),
                requests: AtomicU64::new(0),
                prefix: address.prefix.clone(),
            }),
            address,
            thorough: false,
            runtime,
        })
    }

    /// Looks for every original and slip of one's own there, not only for those of new lines.
    pub fn look_thoroughly(&mut self) {
        self.thorough = true;
    }

    /// Where it is.
    pub fn address(&self) -> &Address {
        &self.address
    }

    /// Requests made so far; each page of a listing counts as one of a thousand names.
    pub fn requests(&self) -> u64 {
        self.inner.requests.load(Ordering::Relaxed)
    }

    fn wrong(&self, error: &object_store::Error) -> Error {
        trouble::words(error, &self.address.words())
    }

    /// Writes one small object.
    pub(crate) fn put_small(&self, name: &str, bytes: PutPayload, mode: PutMode) -> Result<()> {
        self.runtime
            .block_on(self.inner.put_once(name, bytes, mode))
            .map_err(|error| self.wrong(&error))
    }

    /// Writes one small object unless its name is taken; false if the store refused for that reason.
    pub(crate) fn put_new(&self, name: &str, bytes: PutPayload) -> Result<bool> {
        match self
            .runtime
            .block_on(self.inner.put_once(name, bytes, PutMode::Create))
        {
            Ok(()) => Ok(true),
            // What a store answers where the name is taken: 412, or 409 from some.
            Err(
                object_store::Error::AlreadyExists { .. }
                | object_store::Error::Precondition { .. },
            ) => Ok(false),
            Err(error) => Err(self.wrong(&error)),
        }
    }

    /// Reads one small object; `None` where there is none.
    pub(crate) fn get_small(&self, name: &str) -> Result<Option<Vec<u8>>> {
        self.runtime
            .block_on(self.inner.get(name))
            .map_err(|error| self.wrong(&error))
    }

    /// Writes or replaces a derived object that any reader could make again.
    ///
    /// # Errors
    /// Those of the store.
    pub fn replace(&self, name: &str, bytes: Vec<u8>) -> Result<()> {
        self.put_small(name, bytes.into(), PutMode::Overwrite)
    }
}

impl Inner {
    fn key(&self, name: &str) -> Key {
        if self.prefix.is_empty() {
            Key::from(name)
        } else {
            Key::from(format!("{}/{name}", self.prefix))
        }
    }

    /// Asks the gateways in turn, the one that answered last first.
    async fn ask<T, F, R>(&self, what: F) -> Answer<T>
    where
        F: Fn(Arc<dyn ObjectStore>) -> R,
        R: Future<Output = Answer<T>>,
    {
        let first = self.good.load(Ordering::Relaxed);
        let mut last = None;
        for attempt in 0..self.gateways.len() * ROUNDS {
            let at = (first + attempt) % self.gateways.len();
            let Some(gateway) = self.gateways.get(at) else {
                break;
            };
            self.requests.fetch_add(1, Ordering::Relaxed);
            match what(gateway.clone()).await {
                Err(error) if trouble::may_pass(&error) => last = Some(error),
                answer => {
                    self.good.store(at, Ordering::Relaxed);
                    return answer;
                }
            }
        }
        Err(last.unwrap_or(object_store::Error::NotImplemented {
            operation: "reach a gateway".to_owned(),
            implementer: "an empty list".to_owned(),
        }))
    }

    async fn get(&self, name: &str) -> Answer<Option<Vec<u8>>> {
        let key = self.key(name);
        let got = self
            .ask(|gateway| {
                let key = key.clone();
                async move { gateway.get(&key).await?.bytes().await }
            })
            .await;
        match got {
            Ok(bytes) => Ok(Some(bytes.to_vec())),
            Err(object_store::Error::NotFound { .. })
                if got.as_ref().err().is_some_and(|e| !trouble::no_bucket(e)) =>
            {
                Ok(None)
            }
            Err(error) => Err(error),
        }
    }

    async fn put_once(&self, name: &str, bytes: PutPayload, mode: PutMode) -> Answer<()> {
        let key = self.key(name);
        self.ask(|gateway| {
            let (key, bytes, mode) = (key.clone(), bytes.clone(), mode.clone());
            async move {
                gateway
                    .put_opts(&key, bytes, PutOptions::from(mode))
                    .await
                    .map(|_| ())
            }
        })
        .await
    }

    /// Writes an object whose name says what it holds. A reply that was lost, or a name that is taken,
    /// is settled by reading back; what is not its name is written over.
    async fn put_named(&self, name: &str, bytes: Vec<u8>) -> Answer<()> {
        let payload = PutPayload::from(bytes);
        let failed = match self.put_once(name, payload.clone(), PutMode::Create).await {
            Ok(()) => return Ok(()),
            Err(error) if trouble::no_right(&error) => return Err(error),
            Err(error) => error,
        };
        match self.get(name).await {
            Ok(Some(there)) if payload.iter().flatten().eq(&there) => Ok(()),
            Ok(Some(_)) => self.put_once(name, payload, PutMode::Overwrite).await,
            _ => Err(failed),
        }
    }

    /// Writes a large object in parts, and reads back what came of it: no answer of the store's takes
    /// the place of the digest that is its name. What is wrong is written once more.
    async fn put_large(&self, name: &str, path: &std::path::Path) -> Answer<()> {
        let mut last = object_store::Error::Generic {
            store: "S3",
            source: "what lies there after writing is not what was written".into(),
        };
        for _ in 0..2 {
            let sent = self.send_large(name, path).await;
            match sent {
                Err(error) if trouble::no_right(&error) => return Err(error),
                sent => {
                    if self.lies_there(name).await? {
                        return Ok(());
                    }
                    if let Err(error) = sent {
                        last = error;
                    }
                }
            }
        }
        Err(last)
    }

    /// True if an object is there and is what its name says.
    async fn lies_there(&self, name: &str) -> Answer<bool> {
        let key = self.key(name);
        let found = self
            .ask(|gateway| {
                let key = key.clone();
                async move {
                    let mut stream = gateway.get(&key).await?.into_stream();
                    let mut hash = Sha256::new();
                    while let Some(some) = stream.next().await {
                        hash.update(&some?);
                    }
                    Ok(Digest(hash.finalize().into()))
                }
            })
            .await;
        match found {
            Ok(digest) => Ok(names::read(name) == Some(names::Held::Original(digest))),
            Err(object_store::Error::NotFound { .. }) => Ok(false),
            Err(error) => Err(error),
        }
    }

    async fn send_large(&self, name: &str, path: &std::path::Path) -> Answer<()> {
        let key = self.key(name);
        self.ask(|gateway| {
            let key = key.clone();
            async move {
                let wrong = |error: std::io::Error| object_store::Error::Generic {
                    store: "file",
                    source: Box::new(error),
                };
                let mut file = std::fs::File::open(path).map_err(wrong)?;
                let mut writer = WriteMultipart::new(gateway.put_multipart(&key).await?);
                let mut buffer = vec![0u8; 1 << 20];
                loop {
                    let read = match file.read(&mut buffer) {
                        Ok(0) => break,
                        Ok(read) => read,
                        Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
                        Err(error) => {
                            // The parts are of no use to anybody.
                            let _ = writer.abort().await;
                            return Err(wrong(error));
                        }
                    };
                    writer.write(buffer.get(..read).unwrap_or(&[]));
                    writer.wait_for_capacity(4).await?;
                }
                writer.finish().await.map(|_| ())
            }
        })
        .await
    }
}

impl Place for Bucket {
    fn words(&self) -> String {
        self.address.words()
    }

    /// Authors write only under their own keys there.
    fn own_only(&self) -> bool {
        true
    }

    fn thorough(&self) -> bool {
        self.thorough
    }

    fn list(&mut self, prefix: &str) -> Result<Vec<Listed>> {
        let inner = self.inner.clone();
        let key = inner.key(prefix.trim_end_matches('/'));
        let cut = if inner.prefix.is_empty() {
            0
        } else {
            inner.prefix.len() + 1
        };
        let listed: Answer<Vec<Listed>> = self.runtime.block_on(inner.ask(|gateway| {
            let key = key.clone();
            async move {
                let mut out = Vec::new();
                let mut stream = gateway.list(Some(&key));
                while let Some(meta) = stream.next().await {
                    let meta = meta?;
                    let name = meta.location.as_ref();
                    out.push(Listed {
                        name: name.get(cut..).unwrap_or(name).to_owned(),
                        bytes: meta.size,
                    });
                }
                Ok(out)
            }
        }));
        let listed = listed.map_err(|error| self.wrong(&error))?;
        inner.requests.fetch_add(
            (listed.len() as u64).saturating_sub(1) / 1000,
            Ordering::Relaxed,
        );
        Ok(listed)
    }

    fn get(&mut self, wanted: &[Listed], sink: &mut Sink<'_>) -> Result<()> {
        let small = wanted.iter().filter(|listed| listed.bytes <= SMALL);
        let mut coming = futures_util::stream::iter(small.cloned().map(|listed| {
            let inner = self.inner.clone();
            self.runtime.spawn(async move {
                let got = inner.get(&listed.name).await;
                (listed, got)
            })
        }))
        .buffered(TOGETHER);
        while let Some(came) = self.runtime.block_on(coming.next()) {
            let (listed, got) = came
                .map_err(|error| Error::new(ErrorKind::Io, format!("a worker stopped: {error}")))?;
            if let Some(bytes) = got.map_err(|error| self.wrong(&error))? {
                sink(&listed.name, &mut bytes.as_slice())?;
            }
        }
        for listed in wanted.iter().filter(|listed| listed.bytes > SMALL) {
            let key = self.inner.key(&listed.name);
            let opened = self.runtime.block_on(self.inner.ask(|gateway| {
                let key = key.clone();
                async move { Ok(gateway.get(&key).await?.into_stream()) }
            }));
            match opened {
                Ok(stream) => sink(
                    &listed.name,
                    &mut Streamed {
                        runtime: &self.runtime,
                        stream,
                        rest: Vec::new(),
                        at: 0,
                    },
                )?,
                Err(object_store::Error::NotFound { .. }) => {}
                Err(error) => return Err(self.wrong(&error)),
            }
        }
        Ok(())
    }

    fn put(&mut self, offers: &[(String, Offer)]) -> Result<()> {
        let mut large = Vec::new();
        let mut small = Vec::new();
        for (name, offer) in offers {
            match offer {
                Offer::Bytes(bytes) => small.push((name.clone(), Offer::Bytes(bytes.clone()))),
                Offer::File(path) => {
                    let length = std::fs::metadata(path)
                        .map_err(|error| Error::io(&error, path.display()))?
                        .len();
                    if length > SMALL {
                        large.push((name, path));
                    } else {
                        small.push((name.clone(), Offer::File(path.clone())));
                    }
                }
            }
        }
        let mut going = futures_util::stream::iter(small.into_iter().map(|(name, offer)| {
            let inner = self.inner.clone();
            self.runtime.spawn(async move {
                let bytes = match offer {
                    Offer::Bytes(bytes) => bytes,
                    Offer::File(path) => {
                        std::fs::read(&path).map_err(|error| object_store::Error::Generic {
                            store: "file",
                            source: Box::new(error),
                        })?
                    }
                };
                inner.put_named(&name, bytes).await
            })
        }))
        .buffer_unordered(TOGETHER);
        while let Some(went) = self.runtime.block_on(going.next()) {
            went.map_err(|error| Error::new(ErrorKind::Io, format!("a worker stopped: {error}")))?
                .map_err(|error| self.wrong(&error))?;
        }
        for (name, path) in large {
            self.runtime
                .block_on(self.inner.put_large(name, path))
                .map_err(|error| self.wrong(&error))?;
        }
        Ok(())
    }
}

/// A large object as it comes.
struct Streamed<'a, S> {
    runtime: &'a Runtime,
    stream: S,
    rest: Vec<u8>,
    at: usize,
}

impl<S, B> Read for Streamed<'_, S>
where
    S: futures_util::Stream<Item = Answer<B>> + Unpin,
    B: AsRef<[u8]>,
{
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        while self.at == self.rest.len() {
            match self.runtime.block_on(self.stream.next()) {
                None => return Ok(0),
                Some(Ok(bytes)) => {
                    self.rest = bytes.as_ref().to_vec();
                    self.at = 0;
                }
                Some(Err(error)) => return Err(std::io::Error::other(error)),
            }
        }
        let rest = self.rest.get(self.at..).unwrap_or(&[]);
        let take = rest.len().min(buffer.len());
        if let (Some(to), Some(from)) = (buffer.get_mut(..take), rest.get(..take)) {
            to.copy_from_slice(from);
        }
        self.at += take;
        Ok(take)
    }
}
