//! A notebook's folder in the shape of a pack's payload.

use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

use crate::error::{Error, ErrorKind, Result};
use crate::pack::members::{Folder, Limits, Member, Members};
use crate::record::Digest;
use crate::world::World;

/// What of a notebook travels, under a pack's names.
pub(super) struct Payload {
    folder: Folder,
    list: Vec<Member>,
    from: BTreeMap<String, String>,
}

impl Payload {
    pub(super) fn of(world: &World, root: &Path) -> Result<Self> {
        let folder = Folder::open(world.files.clone(), root, &Limits::default())?;
        let mut from = BTreeMap::new();
        let mut list = Vec::new();
        for member in folder.list() {
            if let Some(name) = name_in_pack(&member.name) {
                list.push(Member {
                    name: name.clone(),
                    len: member.len,
                });
                from.insert(name, member.name.clone());
            }
        }
        list.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(Self { folder, list, from })
    }
}

/// Loose captures, keys, the index and what only concerns the other device stay there.
fn name_in_pack(name: &str) -> Option<String> {
    if ["evidence/", "slips/", "copies/"]
        .iter()
        .any(|folder| name.starts_with(folder))
    {
        return Some(format!("data/{name}"));
    }
    let (aircraft, file) = name.strip_prefix("record/")?.split_once('/')?;
    aircraft.parse::<Digest>().ok()?;
    if let Some(author) = file.strip_suffix(".proofs.json") {
        return Some(format!("data/proofs/{aircraft}-{author}.json"));
    }
    file.strip_suffix(".jsonl")?.parse::<Digest>().ok()?;
    Some(format!("data/{name}"))
}

impl Members for Payload {
    fn list(&self) -> &[Member] {
        &self.list
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + '_>> {
        match self.from.get(name) {
            Some(from) => self.folder.open(from),
            None => Err(Error::new(ErrorKind::Unknown, "there is no such file in it").at(name)),
        }
    }

    fn place(&self) -> String {
        self.folder.place()
    }
}
