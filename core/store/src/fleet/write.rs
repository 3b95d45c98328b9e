//! Columns to Parquet, several files at a time.

use arrow_array::types::Int32Type;
use arrow_array::{ArrayRef, DictionaryArray, Float64Array, Int32Array, RecordBatch};
use parquet::arrow::ArrowWriter;
use parquet::arrow::arrow_writer::ArrowWriterOptions;
use parquet::basic::{Compression, ZstdLevel};
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::schema::types::ColumnPath;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;
use witnessmark_core::{Error, ErrorKind, Result};

/// Makes a file's bytes.
pub type Make<'a> = Box<dyn FnOnce() -> Result<Vec<u8>> + Send + 'a>;

/// One file to be made.
pub struct Sheet<'a> {
    /// Its name.
    pub name: String,
    /// Its bytes.
    pub make: Make<'a>,
}

/// Makes files on all processors, hands them over in order.
pub fn side_by_side(sheets: Vec<Sheet<'_>>, sink: &mut super::table::Sink<'_>) -> Result<()> {
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let names: Vec<String> = sheets.iter().map(|sheet| sheet.name.clone()).collect();
    let jobs: Vec<std::sync::Mutex<Option<Make<'_>>>> = sheets
        .into_iter()
        .map(|sheet| std::sync::Mutex::new(Some(sheet.make)))
        .collect();
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        // As many finished files as there are workers may wait; then the workers do.
        let (done, coming) = mpsc::sync_channel(workers);
        for _ in 0..workers.min(jobs.len()) {
            let (done, jobs, next) = (done.clone(), &jobs, &next);
            scope.spawn(move || {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(job) = jobs.get(at) else { return };
                    let make = job.lock().ok().and_then(|mut job| job.take());
                    let Some(make) = make else { return };
                    // Nobody listens any more: the sink failed.
                    if done.send((at, make())).is_err() {
                        return;
                    }
                }
            });
        }
        drop(done);
        let mut waiting = BTreeMap::new();
        let mut turn = 0;
        for (at, made) in coming {
            waiting.insert(at, made);
            while let Some(made) = waiting.remove(&turn) {
                if let Some(name) = names.get(turn) {
                    sink(name, made?)?;
                }
                turn += 1;
            }
        }
        if turn == names.len() {
            Ok(())
        } else {
            Err(Error::new(ErrorKind::Io, "a worker stopped"))
        }
    })
}

fn wrong(error: &dyn std::fmt::Display) -> Error {
    Error::new(
        ErrorKind::Io,
        format!("the table could not be written: {error}"),
    )
}

/// A file of these columns.
pub fn encode(batch: &RecordBatch) -> Result<Vec<u8>> {
    let mut properties = WriterProperties::builder()
        .set_compression(Compression::ZSTD(ZstdLevel::default()))
        .set_statistics_enabled(EnabledStatistics::Chunk);
    // Here hardly anything recurs: numbering it would cost and save nothing.
    for column in ["finding", "walkaround", "hours", "value"] {
        properties =
            properties.set_column_dictionary_enabled(ColumnPath::from(column.to_owned()), false);
    }
    // Readers see text and not how it was numbered here.
    let options = ArrowWriterOptions::new()
        .with_properties(properties.build())
        .with_skip_arrow_metadata(true);
    let mut bytes = Vec::new();
    let mut writer = ArrowWriter::try_new_with_options(&mut bytes, batch.schema(), options)
        .map_err(|e| wrong(&e))?;
    writer.write(batch).map_err(|e| wrong(&e))?;
    writer.close().map_err(|e| wrong(&e))?;
    Ok(bytes)
}

/// Columns as one batch.
pub fn batch(columns: Vec<(&str, ArrayRef, bool)>) -> Result<RecordBatch> {
    RecordBatch::try_from_iter_with_nullable(columns).map_err(|e| wrong(&e))
}

/// A column of texts by number.
pub fn keys(values: ArrayRef, numbers: impl Iterator<Item = u32>) -> Result<ArrayRef> {
    let numbers = Int32Array::from_iter_values(numbers.map(|number| number as i32));
    named(numbers, values)
}

/// The same with gaps.
pub fn keys_or_none(
    values: ArrayRef,
    numbers: impl Iterator<Item = Option<u32>>,
) -> Result<ArrayRef> {
    let numbers = Int32Array::from_iter(numbers.map(|one| one.map(|number| number as i32)));
    named(numbers, values)
}

fn named(numbers: Int32Array, values: ArrayRef) -> Result<ArrayRef> {
    let column = DictionaryArray::<Int32Type>::try_new(numbers, values).map_err(|e| wrong(&e))?;
    Ok(Arc::new(column))
}

/// A column of numbers with gaps.
pub fn reals<R>(rows: &[R], of: impl Fn(&R) -> Option<f64>) -> ArrayRef {
    Arc::new(Float64Array::from_iter(rows.iter().map(of)))
}
