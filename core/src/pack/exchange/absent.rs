//! Originals and slips that lines speak of and that are not here after a meeting: gone, left out on
//! purpose, removed, or simply not come yet. Four different things to a person.

use super::Met;
use super::here::Here;
use crate::error::Result;
use crate::pack::receive;
use crate::record::Digest;
use crate::world::World;
use std::collections::BTreeSet;
use std::path::Path;

/// One row for each of the four that there is.
pub fn rows(world: &World, root: &Path, own: &Digest, here: &Here, met: &mut Met) -> Result<()> {
    let waiting = here.missing()?.all();
    let removed: BTreeSet<Digest> = here
        .removed()
        .into_keys()
        .filter(|digest| !here.originals.contains_key(digest))
        .collect();
    let mut was_here = receive::came_in(world, root);
    was_here.extend(here.cited_by(own)?);
    let left_out = receive::left_out(world, root);
    let (missing, others): (BTreeSet<Digest>, BTreeSet<Digest>) = waiting
        .into_iter()
        .partition(|digest| was_here.contains(digest));
    let (withheld, to_come): (BTreeSet<Digest>, BTreeSet<Digest>) = others
        .into_iter()
        .partition(|digest| left_out.contains_key(digest));
    let mut why: Vec<&str> = withheld
        .iter()
        .filter_map(|digest| left_out.get(digest).map(String::as_str))
        .collect();
    why.sort_unstable();
    why.dedup();
    let why = why.join(", ");
    let mut say = |code, digests: &BTreeSet<Digest>, one: String, many: String, remedy: &str| {
        let Some(first) = digests.first() else { return };
        let what = if digests.len() == 1 {
            format!("one file {one}")
        } else {
            format!("{} files {many}", digests.len())
        };
        met.outcome.report.add(code, &first.hex(), what, remedy);
    };
    say(
        "missing",
        &missing,
        "was here and is gone, and nobody has left it there".to_owned(),
        "were here and are gone, and nobody has left them there".to_owned(),
        "take it back from a backup; a check says what it touches: witnessmark verify",
    );
    say(
        "withheld",
        &withheld,
        format!("was left out on purpose by who packed it ({why})"),
        format!("were left out on purpose by who packed them ({why})"),
        "nothing",
    );
    say(
        "removed",
        &removed,
        "was removed on purpose by its author: neither taken nor left".to_owned(),
        "were removed on purpose by their authors: neither taken nor left".to_owned(),
        "nothing",
    );
    say(
        "not_handed_over",
        &to_come,
        "that lines speak of is not there yet".to_owned(),
        "that lines speak of are not there yet".to_owned(),
        "meet again later; if it never comes, ask the author: it may have been left out on purpose",
    );
    Ok(())
}
