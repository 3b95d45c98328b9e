//! Where a table goes: a folder, or a store. What an earlier one left for years of which there are no
//! rows any more goes with it, or its rows would still be counted.

use super::table::{Table, Written};
use crate::Bucket;
use std::path::Path;
use witnessmark_core::pack::exchange::Place;
use witnessmark_core::{Error, Result};

/// Writes the table below `folder`, each file whole before it has its name.
///
/// # Errors
/// Those of the encoder and of the machine.
pub fn to_folder(table: Table, folder: &Path) -> Result<Written> {
    let below = |name: &str| {
        name.split('/')
            .fold(folder.to_path_buf(), |path, part| path.join(part))
    };
    let io = |error: std::io::Error, path: &Path| Error::io(&error, path.display());
    let mut there = Vec::new();
    for kind in ["looks", "sightings"] {
        let path = folder.join(kind);
        if !path.is_dir() {
            continue;
        }
        for entry in std::fs::read_dir(&path).map_err(|e| io(e, &path))? {
            let entry = entry.map_err(|e| io(e, &path))?;
            let year = entry.file_name().to_string_lossy().into_owned();
            there.push(format!("{kind}/{year}/part.parquet"));
        }
    }
    let stale = table.stale(there);
    let mut written = table.write(&mut |name, bytes| {
        let path = below(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).map_err(|e| io(e, parent))?;
        }
        let partial = path.with_extension("partial");
        std::fs::write(&partial, bytes).map_err(|e| io(e, &partial))?;
        std::fs::rename(&partial, &path).map_err(|e| io(e, &path))
    })?;
    for name in stale {
        let path = below(&name);
        match std::fs::remove_file(&path) {
            Ok(()) => written.stale += 1,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
            Err(error) => return Err(io(error, &path)),
        }
        if let Some(year) = path.parent() {
            // Best effort: somebody else's files may lie beside ours, and those stay.
            let _ = std::fs::remove_dir(year);
        }
    }
    Ok(written)
}

/// Writes the table into a store. Nothing is deleted there: a stale file is written over by one of no rows.
///
/// # Errors
/// Those of the encoder and of the store.
pub fn to_bucket(table: Table, bucket: &mut Bucket) -> Result<Written> {
    let mut there = Vec::new();
    for kind in ["looks/", "sightings/"] {
        there.extend(bucket.list(kind)?.into_iter().map(|listed| listed.name));
    }
    let stale = table.stale(there);
    let mut written = table.write(&mut |name, bytes| bucket.replace(name, bytes))?;
    for name in stale {
        bucket.replace(&name, Table::empty(&name)?)?;
        written.stale += 1;
    }
    Ok(written)
}
