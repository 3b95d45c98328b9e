//! Receiving as a union, over random sets of notebooks: whole chains, their first lines, single findings with
//! their proofs, a chain written anew beside the old one, with some of the originals and not others.

use super::super::super::cut;
use super::super::super::testing::Author;
use super::*;
use crate::world::SystemFiles;
use proptest::prelude::*;
use std::sync::Arc;

/// What of one author's chain a notebook holds.
#[derive(Debug, Clone, Copy)]
enum Of {
    Nothing,
    Whole,
    First(usize),
    Finding(usize),
    /// The whole of another version: its end written anew.
    Anew,
}

/// What one notebook holds: of three authors, and which originals have come along.
type Made = ([Of; 3], u8);

fn of() -> impl Strategy<Value = Of> {
    prop_oneof![
        2 => Just(Of::Nothing),
        3 => Just(Of::Whole),
        2 => (1usize..14).prop_map(Of::First),
        2 => (0usize..2).prop_map(Of::Finding),
        1 => Just(Of::Anew),
    ]
}

fn sets() -> impl Strategy<Value = Vec<Made>> {
    prop::collection::vec(([of(), of(), of()], any::<u8>()), 2..5)
}

/// Three authors of one aircraft: an owner, and two who vouch for one another's chains.
struct People {
    home: tempfile::TempDir,
    findings: Vec<Digest>,
    authors: Vec<Author>,
    anew: Vec<Author>,
}

fn people() -> People {
    let make = |root: &Path| {
        let (owner, findings) = owner(root);
        let mut second = Author::open(2, owner.aircraft, root);
        let mut third = Author::open(3, owner.aircraft, root);
        for author in [&mut second, &mut third] {
            let walkaround = author.start();
            author.vouch(&owner);
            author.finish(walkaround);
        }
        third.vouch(&second);
        (vec![owner, second, third], findings)
    };
    let home = tempfile::tempdir().unwrap();
    let (authors, findings) = make(home.path());
    authors.iter().for_each(|author| {
        author.save(home.path());
    });
    let (mut anew, _) = make(tempfile::tempdir().unwrap().path());
    for author in &mut anew {
        author.lines.truncate(3);
        let walkaround = author.start();
        author.finish(walkaround);
    }
    People {
        home,
        findings,
        authors,
        anew,
    }
}

impl People {
    /// A folder with just that.
    fn notebook(&self, (of, originals): &Made) -> tempfile::TempDir {
        let folder = empty();
        let limits = Limits::default();
        let files: Arc<dyn crate::world::Files> = Arc::new(SystemFiles);
        let members = members::Folder::open(files, self.home.path(), &limits).unwrap();
        let source = Source {
            members: &members,
            prefix: "",
            own: None,
            was_here: BTreeSet::new(),
            remembered: Default::default(),
            withheld: Vec::new(),
        };
        let chains = verify::load(&source, &mut Report::default()).unwrap();
        let mut cited = BTreeSet::new();
        for (at, of) in of.iter().enumerate() {
            let author = &self.authors[at];
            let key = (author.aircraft, author.signer.public());
            let lines: Vec<Line> = match *of {
                Of::Nothing => Vec::new(),
                Of::Whole => author.lines.clone(),
                Of::First(count) => author.lines.iter().take(count).cloned().collect(),
                Of::Anew => self.anew[at].lines.clone(),
                Of::Finding(n) => {
                    let wanted = Cut::Finding(BTreeSet::from([self.findings[n]]));
                    let mut chosen =
                        cut::choose(&chains, &BTreeSet::from([author.aircraft]), &wanted);
                    for proofs in chosen.proofs.iter().filter(|p| p.author == key.1) {
                        let name = format!("record/{}/{}.proofs.json", key.0, key.1);
                        let bytes = crate::record::canonical::to_bytes(proofs).unwrap();
                        write(folder.path(), &name, &bytes);
                    }
                    chosen.chains.remove(&key).unwrap_or_default()
                }
            };
            if lines.is_empty() {
                continue;
            }
            for line in &lines {
                let body = line.entry.body.to_value().unwrap();
                cited.extend(
                    crate::record::kinds::cites(&body)
                        .into_iter()
                        .map(|(_, d)| d),
                );
            }
            let bytes = plan::written(lines.iter());
            write(
                folder.path(),
                &format!("record/{}/{}.jsonl", key.0, key.1),
                &bytes,
            );
        }
        let kept = state(self.home.path());
        for (name, bytes) in kept.iter().filter(|(name, _)| !name.starts_with("record/")) {
            let digest = verify::stated(name.split_once('/').unwrap().1).unwrap();
            let come = originals >> (digest.0[0] % 8) & 1 == 1;
            if cited.contains(&digest) && come {
                write(folder.path(), name, bytes);
            }
        }
        folder
    }
}

/// An empty notebook that received these, one after the other.
fn union<'a>(from: impl IntoIterator<Item = &'a Path>) -> tempfile::TempDir {
    let here = empty();
    for folder in from {
        let outcome = receive_notebook(&world(2), here.path(), STRANGER, folder, false).unwrap();
        assert!(!outcome.refused, "{:?}", outcome.report.rows);
    }
    here
}

/// What a stranger's verify says of it: nothing but what such a set may show.
fn rows(root: &Path) -> Vec<verify::Row> {
    let limits = Limits::default();
    let files: Arc<dyn crate::world::Files> = Arc::new(SystemFiles);
    let members = members::Folder::open(files, root, &limits).unwrap();
    let source = Source {
        members: &members,
        prefix: "",
        own: Some(STRANGER),
        was_here: came_in(&world(1), root),
        remembered: Default::default(),
        withheld: Vec::new(),
    };
    verify::verify(&source, &limits).unwrap().rows
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_set_gives_one_notebook_in_any_order_any_number_of_times_and_grouped_in_any_way(
        (made, order) in sets().prop_flat_map(|made| {
            let order: Vec<usize> = (0..made.len()).collect();
            (Just(made), Just(order).prop_shuffle())
        }),
        at in any::<prop::sample::Index>(),
    ) {
        let people = people();
        let folders: Vec<tempfile::TempDir> =
            made.iter().map(|one| people.notebook(one)).collect();
        let all: Vec<&Path> = folders.iter().map(tempfile::TempDir::path).collect();
        let once = union(all.iter().copied());
        let expected = state(once.path());
        // In another order.
        let other = union(order.iter().map(|n| all[*n]));
        prop_assert_eq!(&state(other.path()), &expected);
        // Once more: nothing is new.
        for folder in &all {
            let again =
                receive_notebook(&world(3), once.path(), STRANGER, folder, false).unwrap();
            prop_assert_eq!((again.lines, again.new_files, again.slips), (0, 0, 0));
        }
        prop_assert_eq!(&state(once.path()), &expected);
        // First some together and the others together, then the two.
        let cut = at.index(all.len() + 1);
        let (left, right) = (union(all[..cut].iter().copied()), union(all[cut..].iter().copied()));
        let both = union([left.path(), right.path()]);
        prop_assert_eq!(&state(both.path()), &expected);
        // Two versions stand side by side, gaps are gaps, what never came is not missing.
        let found = rows(once.path());
        let codes: BTreeSet<&str> = found.iter().map(|row| row.code).collect();
        let may = [
            "gap", "not_handed_over", "two_lines_one_number", "not_as_vouched", "unfinished", "unplaced",
        ];
        prop_assert!(codes.iter().all(|code| may.contains(code)), "{:?}", codes);
        for (n, author) in people.authors.iter().enumerate() {
            let both = made.iter().any(|(of, _)| matches!(of[n], Of::Anew))
                && made.iter().any(|(of, _)| matches!(of[n], Of::Whole));
            if both {
                prop_assert!(codes.contains("two_lines_one_number"));
                let name = format!("record/{}/{}.jsonl", author.aircraft, author.signer.public());
                let lines = expected[&name].split(|b| *b == b'\n').count() - 1;
                // Three lines are the same in both.
                prop_assert_eq!(lines, author.lines.len() + people.anew[n].lines.len() - 3);
            }
        }
    }
}

/// One finding, then another beside it: every line stands under a finish by its proof.
#[test]
fn gaps_that_proofs_cover_are_not_called_unproven() {
    let people = people();
    let of = |n| [Of::Finding(n), Of::Nothing, Of::Nothing];
    let folders = [people.notebook(&(of(0), 0)), people.notebook(&(of(1), 0))];
    for count in 1..=2 {
        let here = union(folders.iter().take(count).map(tempfile::TempDir::path));
        let rows = rows(here.path());
        let has = |code: &str| rows.iter().any(|row| row.code == code);
        assert!(
            rows.iter().all(|row| row.status != Status::Failure),
            "{rows:?}"
        );
        assert_eq!(has("gap"), count == 1, "the two together have every line");
        let unproven = rows.iter().any(|row| row.what.contains("under no finish"));
        assert!(!unproven, "{rows:?}");
        assert!(has("not_handed_over"), "what never came is not missing");
    }
}
