//! What is new in a judged pack, and adding it: originals first, lines last.

use super::*;

/// What will be written.
pub(super) struct Plan {
    /// Member and digest of originals that are new.
    evidence: Vec<(String, Digest)>,
    slips: Vec<(String, Digest)>,
    copies: Vec<(String, Digest)>,
    /// Chain file below `record/` and its whole new content.
    chains: Vec<(String, Vec<u8>)>,
    proofs: Vec<(String, Proofs)>,
    /// What the packer left out, as far as that is new.
    withheld: Vec<LeftOut>,
}

impl Plan {
    /// Compares with what is here.
    pub(super) fn make(
        world: &World,
        root: &Path,
        own: Digest,
        judged: &mut Judged<'_>,
        limits: &Limits,
    ) -> Result<Self> {
        let files = world.files.as_ref();
        let mut plan = Self {
            evidence: Vec::new(),
            slips: Vec::new(),
            copies: Vec::new(),
            chains: Vec::new(),
            proofs: Vec::new(),
            withheld: Vec::new(),
        };
        let lines = judged.lines(limits)?;
        let mut cited: BTreeSet<Digest> = BTreeSet::new();
        let mut chains: BTreeMap<(Digest, Digest), Vec<Line>> = BTreeMap::new();
        for (aircraft, author, line) in lines {
            let body = line.entry.body.to_value()?;
            cited.extend(
                crate::record::kinds::cites(&body)
                    .into_iter()
                    .map(|(_, digest)| digest),
            );
            chains.entry((aircraft, author)).or_default().push(line);
        }
        for member in judged.members.list() {
            let original = member
                .name
                .strip_prefix("data/evidence/")
                .and_then(verify::stated);
            let slip = member
                .name
                .strip_prefix("data/slips/")
                .and_then(verify::stated);
            if let Some(digest) = original.filter(|d| cited.contains(d))
                && store::find(files, root, &digest)?.is_none()
            {
                plan.evidence.push((member.name.clone(), digest));
            }
            if let Some(digest) = slip.filter(|d| cited.contains(d))
                && !files.has(&slip_path(root, &digest))?
            {
                plan.slips.push((member.name.clone(), digest));
            }
        }
        let known = left_out(world, root);
        for left in &judged.withheld.files {
            if !known.contains_key(&left.file) {
                plan.withheld.push(left.clone());
            }
            if let Some(copy) = &left.copy
                && store::find(files, root, &left.file)?.is_none()
                && copy_of(world, root, &left.file)?.is_none()
            {
                plan.copies.push((copy.clone(), left.file));
            }
        }
        for ((aircraft, author), lines) in chains {
            plan.chain(
                world,
                root,
                own,
                (aircraft, author),
                lines,
                &mut judged.outcome,
            )?;
            let name = format!("data/proofs/{aircraft}-{author}.json");
            if author != own && judged.members.len_of(&name).is_some() {
                let bytes = judged.members.read(&name, limits.manifest)?;
                let new: Proofs = serde_json::from_slice(&bytes)
                    .map_err(|e| Error::new(ErrorKind::BadFormat, e.to_string()).at(&name))?;
                let file = format!("{aircraft}/{author}.proofs.json");
                let path = below(root, &["record"]).join(&file);
                let mut all = new.clone();
                if files.has(&path)? {
                    let bytes = files
                        .read(&path, limits.manifest)
                        .map_err(|e| Error::io(&e, path.display()))?;
                    let old: Proofs = serde_json::from_slice(&bytes).map_err(|e| {
                        Error::new(ErrorKind::Damaged, e.to_string()).at(path.display())
                    })?;
                    all.proofs.extend(old.proofs.iter().cloned());
                    all.proofs.sort();
                    all.proofs.dedup();
                    if all == old {
                        continue;
                    }
                }
                plan.proofs.push((file, all));
            }
        }
        judged.outcome.new_files = plan.evidence.len() as u64;
        judged.outcome.slips = plan.slips.len() as u64;
        Ok(plan)
    }

    /// The union of one chain with what is here.
    fn chain(
        &mut self,
        world: &World,
        root: &Path,
        own: Digest,
        (aircraft, author): (Digest, Digest),
        lines: Vec<Line>,
        outcome: &mut Outcome,
    ) -> Result<()> {
        let files = world.files.as_ref();
        let file = format!("{aircraft}/{author}.jsonl");
        let path = below(root, &["record"]).join(&file);
        let mut here: BTreeMap<(u64, Digest), Line> = BTreeMap::new();
        if files.has(&path)? {
            let stretch = chain::read(files, &path, 0)?;
            if !stretch.damaged.is_empty() || stretch.torn > 0 && author != own {
                return Err(Error::new(ErrorKind::Damaged, "this chain is damaged here; nothing was taken in, so that nothing of it is written over")
                    .at(path.display())
                    .hint("a check says what it touches: witnessmark verify; take it back from a backup, then receive again"));
            }
            here = keyed(stretch.lines.into_iter().map(|(_, line)| line));
        }
        let before = here.len();
        let mut fresh: BTreeMap<(u64, Digest), Line> = BTreeMap::new();
        for (key, line) in keyed(lines) {
            if here.contains_key(&key) {
                outcome.known += 1
            } else {
                fresh.insert(key, line);
            }
        }
        if fresh.is_empty() {
            return Ok(());
        }
        outcome.lines += fresh.len() as u64;
        if author == own {
            return self.own_lines(world, root, &here, fresh, &file, outcome);
        }
        for (seq, digest) in fresh.keys() {
            if before > 0 && here.keys().any(|(s, d)| s == seq && d != digest) {
                outcome.report.add(
                    "two_lines_one_number",
                    &format!("record/{file}"),
                    format!("line {} of this chain is here with different content than in the pack: one of the two was made later to replace the other", seq + 1),
                    "both are kept; ask the author",
                );
            }
        }
        here.append(&mut fresh);
        self.chains.push((file, written(here.values())));
        Ok(())
    }

    /// Lines under the notebook's own key: they continue the chain, or they are kept beside it.
    fn own_lines(
        &mut self,
        world: &World,
        root: &Path,
        here: &BTreeMap<(u64, Digest), Line>,
        fresh: BTreeMap<(u64, Digest), Line>,
        file: &str,
        outcome: &mut Outcome,
    ) -> Result<()> {
        let mut tail = here
            .values()
            .next_back()
            .map(|line| (line.entry.seq + 1, line.digest))
            .unwrap_or((0, Digest::ZERO));
        let follows = fresh.values().all(|line| {
            let good = line.entry.seq == tail.0 && line.entry.prev == tail.1;
            tail = (line.entry.seq + 1, line.digest);
            good
        });
        if follows {
            let mut all = here.clone();
            all.extend(fresh);
            self.chains.push((file.to_owned(), written(all.values())));
            return Ok(());
        }
        let other = file.replace(".jsonl", ".other.jsonl");
        let path = below(root, &["record"]).join(&other);
        let mut all = fresh;
        if world.files.has(&path)? {
            all.extend(keyed(
                chain::read(world.files.as_ref(), &path, 0)?
                    .lines
                    .into_iter()
                    .map(|(_, line)| line),
            ));
        }
        outcome.report.add(
            "two_lines_one_number",
            &format!("record/{other}"),
            "lines under this notebook's own key come back that do not continue its chain: another device writes with the same key",
            "they are kept beside it; give each device its own notebook and key (witnessmark init), and link them",
        );
        self.chains.push((other, written(all.values())));
        Ok(())
    }

    fn is_empty(&self) -> bool {
        self.evidence.is_empty()
            && self.slips.is_empty()
            && self.copies.is_empty()
            && self.chains.is_empty()
            && self.proofs.is_empty()
    }

    /// Originals first, then slips, then lines: no line ever points at nothing.
    pub(super) fn carry_out(
        &self,
        world: &World,
        root: &Path,
        judged: &Judged<'_>,
        from: &str,
    ) -> Result<()> {
        if self.is_empty() {
            return Ok(());
        }
        let files = world.files.as_ref();
        for (name, digest) in &self.evidence {
            let mut source = judged.members.open(name)?;
            let incoming = store::receive(world, root, &mut source, Limits::default().file, name)?;
            if incoming.digest != *digest {
                files
                    .remove(&incoming.path)
                    .map_err(|e| Error::io(&e, incoming.path.display()))?;
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "the pack changed while it was received; no line was taken in",
                )
                .at(name)
                .hint("receive it again"));
            }
            let extension = name
                .rsplit('/')
                .next()
                .and_then(|file| file.split_once('.'))
                .map_or("", |(_, e)| e);
            store::settle(files, root, &incoming, extension)?;
        }
        for (name, digest) in &self.slips {
            let bytes = judged.members.read(name, LINE_LIMIT as u64)?;
            if Digest::of(&bytes) != *digest {
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "the pack changed while it was received; no line was taken in",
                )
                .at(name)
                .hint("receive it again"));
            }
            put(world, &slip_path(root, digest), &bytes, Access::Owner)?;
        }
        for (name, digest) in &self.copies {
            let bytes = judged.members.read(name, store::PHOTO_LIMIT)?;
            let extension = name.rsplit('.').next().unwrap_or_default();
            let path = copy_path(root, digest, extension);
            put(world, &path, &bytes, Access::Usual)?;
        }
        let came: Vec<Digest> = self
            .evidence
            .iter()
            .chain(&self.slips)
            .map(|(_, digest)| *digest)
            .collect();
        remember(
            world,
            root,
            judged.seal,
            judged.outcome.packer,
            from,
            &came,
            &self.withheld,
        )?;
        for (file, proofs) in &self.proofs {
            let bytes = crate::record::canonical::to_bytes(proofs)?;
            put(
                world,
                &below(root, &["record"]).join(file),
                &bytes,
                Access::Usual,
            )?;
        }
        for (file, bytes) in &self.chains {
            put(
                world,
                &below(root, &["record"]).join(file),
                bytes,
                Access::Usual,
            )?;
        }
        files
            .sync_dir(&root.join("record"))
            .map_err(|e| Error::io(&e, "record"))
    }
}

fn keyed(lines: impl IntoIterator<Item = Line>) -> BTreeMap<(u64, Digest), Line> {
    lines
        .into_iter()
        .map(|line| ((line.entry.seq, line.digest), line))
        .collect()
}

pub(super) fn written<'a>(lines: impl Iterator<Item = &'a Line>) -> Vec<u8> {
    let mut bytes = Vec::new();
    for line in lines {
        bytes.extend_from_slice(&line.bytes);
        bytes.push(b'\n');
    }
    bytes
}

fn put(world: &World, path: &Path, bytes: &[u8], access: Access) -> Result<()> {
    let io = |error: std::io::Error| Error::io(&error, path.display());
    if let Some(folder) = path.parent() {
        world.files.create_dirs(folder).map_err(io)?;
    }
    world.files.replace(path, bytes, access).map_err(io)
}
