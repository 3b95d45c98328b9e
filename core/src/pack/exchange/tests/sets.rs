//! Meetings in any order, with walks in between: in the end everybody has the same.

use super::*;
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..Default::default() })]

    #[test]
    fn any_order_of_meetings_ends_in_one_record(
        steps in prop::collection::vec((0usize..4, any::<bool>()), 0..14),
    ) {
        let place = tempfile::tempdir().unwrap();
        let homes: Vec<tempfile::TempDir> = (0..4).map(|_| tempfile::tempdir().unwrap()).collect();
        let (first, _) = owner(homes[0].path());
        let mut authors = vec![first];
        for (seed, home) in (31..).zip(&homes[1..]) {
            let author = another(seed, authors[0].aircraft, home.path());
            authors.push(author);
        }
        for (who, walk) in steps {
            if walk {
                let walkaround = authors[who].start();
                let photo = jpeg(40 + authors[who].lines.len() as u8);
                authors[who].photo(homes[who].path(), &photo, walkaround);
                authors[who].finish(walkaround);
                authors[who].save(homes[who].path());
            } else {
                let met = meet_in(homes[who].path(), authors[who].signer.public(), place.path());
                prop_assert!(!met.outcome.refused);
            }
        }
        for _ in 0..2 {
            for (home, author) in homes.iter().zip(&authors) {
                meet_in(home.path(), author.signer.public(), place.path());
            }
        }
        let one = holdings(homes[0].path());
        let written: usize = authors.iter().map(|author| author.lines.len()).sum();
        prop_assert!(one.len() > written);
        for home in &homes[1..] {
            prop_assert_eq!(&holdings(home.path()), &one);
        }
        // Once more moves nothing.
        for (home, author) in homes.iter().zip(&authors) {
            let met = meet_in(home.path(), author.signer.public(), place.path());
            prop_assert_eq!((met.put, met.outcome.lines, met.outcome.new_files), (0, 0, 0));
        }
    }
}
