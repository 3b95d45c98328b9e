//! What leaves the owner's hands: one page, one sheet, and the same content as text, tables and JSON.
//!
//! [`content`] says what there is, [`gather`] takes it from a notebook, [`pictures`] makes what is
//! shown of photos. From there on nothing reads a file: [`page`] draws HTML, [`markdown`], [`table`]
//! and [`message`] write the rest, JSON is the content itself.

pub mod ask;
pub mod content;
pub mod gather;
pub mod listing;
pub mod markdown;
pub mod message;
pub mod page;
pub mod pictures;
pub mod table;
#[cfg(test)]
mod tests;
pub mod words;

pub use ask::{Against, Ask, Cut, Form, Units};
pub use content::Content;

use crate::error::{Error, ErrorKind, Result};
use crate::notebook::Notebook;
use crate::record::Digest;

/// The report of an aircraft in the form that was asked for: UTF-8 text.
///
/// # Errors
/// Those of reading the notebook; a photo that cannot be shown is said in its place instead.
pub fn build(notebook: &Notebook, aircraft: &Digest, ask: &Ask) -> Result<String> {
    let content = gather::gather(notebook, aircraft, ask)?;
    Ok(match ask.form {
        Form::Page => {
            let layout = notebook.layout_of(&notebook.state(aircraft)?)?;
            let album = pictures::Album::of(notebook, &content, ask);
            page::build(&content, &layout, &album, ask)
        }
        Form::Markdown => markdown::write(&content),
        Form::Csv => table::write(&content)?,
        Form::Json => {
            let mut text = serde_json::to_string_pretty(&content)
                .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?;
            text.push('\n');
            text
        }
        Form::Text => message::write(&content),
    })
}
