//! Every built-in layout, and the mistakes that a user's own file may hold.

use super::*;
use crate::datafile::embedded;
use crate::error::ErrorKind;

#[test]
fn every_built_in_file_is_a_layout_without_mistakes() {
    assert!(!embedded::LAYOUTS.is_empty());
    for (file, text) in embedded::LAYOUTS {
        let check = check_toml(text);
        assert!(check.mistakes.is_empty(), "{file}\n{}", check.to_text());
        let layout = Layout::parse(text).unwrap();
        assert_eq!(format!("{}.toml", layout.name), *file);
        for zone in &layout.zones {
            assert!(!zone.ata.is_empty(), "{} {}", layout.name, zone.code);
            assert!(!zone.spoken.is_empty(), "{} {}", layout.name, zone.code);
        }
        for stop in &layout.stops {
            assert!(!stop.look_for.is_empty(), "{} {}", layout.name, stop.key);
        }
        assert!(layout.views.iter().any(|view| view.baseline));
        assert!(layout.views.iter().any(|view| view.handing_over));
    }
    assert_eq!(Layout::all().len(), embedded::LAYOUTS.len());
}

/// One word for one thing: a code means the same place in every built-in layout.
#[test]
fn a_code_means_the_same_everywhere() {
    let mut names = std::collections::BTreeMap::new();
    for layout in Layout::all() {
        for zone in &layout.zones {
            let (name, first) = names
                .entry(&zone.code)
                .or_insert((&zone.name, &layout.name));
            assert_eq!(
                *name, &zone.name,
                "{} in {first} and {}",
                zone.code, layout.name
            );
        }
    }
}

/// ATA 100 major zones: left wing 5, right wing 6, landing gear 7, doors 8, empennage 3.
#[test]
fn first_digits_are_the_published_ones() {
    for layout in Layout::all() {
        for zone in &layout.zones {
            let expected = match zone.code.as_bytes()[0] {
                b'5' => Some(Side::Left),
                b'6' => Some(Side::Right),
                _ => None,
            };
            if let Some(side) = expected {
                assert_eq!(zone.side, side, "{} {}", layout.name, zone.code);
            }
            assert_eq!(
                zone.code.starts_with('8'),
                zone.name.contains("door") && !zone.name.contains("gear"),
                "{}",
                zone.name
            );
        }
    }
}

/// Design section 8: never for propeller, landing gear, mounts, controls, fittings, primary structure.
#[test]
fn no_growth_window_where_a_guess_could_hurt() {
    for layout in Layout::all() {
        for zone in &layout.zones {
            let name = &zone.name;
            let never = [
                "propeller",
                "spinner and hub",
                "gear",
                "mount",
                "fitting",
                "strut ",
                "aileron",
                "elevator",
                "rudder",
                "skin",
                "brake",
                "attachment",
                "main wheel",
                "stabilizer",
            ];
            let fairing = name.contains("wheel fairing");
            if never.iter().any(|word| name.contains(word))
                && !fairing
                && !name.contains("strainer")
            {
                assert!(zone.no_window, "{} {} {name}", layout.name, zone.code);
            }
        }
    }
}

/// FAA-H-8083-3C ch. 2: from the cabin entry counter-clockwise, so left side, tail, right wing, nose,
/// left wing for a left-hand door.
#[test]
fn the_route_is_the_published_one() {
    for layout in Layout::all() {
        let place = |word: &str| {
            layout
                .stops
                .iter()
                .position(|stop| stop.zones.iter().any(|zone| zone == word))
                .unwrap()
        };
        let tail = place("310");
        let (right, left) = (place("660"), place("560"));
        let nose = layout
            .stops
            .iter()
            .position(|s| s.zones.iter().any(|z| z == "410"))
            .unwrap_or((right + left) / 2);
        let mut order = vec![tail, right, nose, left];
        if layout.door == Side::Right {
            // A right-hand door starts the same way round, from the right side.
            order.sort_unstable_by_key(|at| (at + layout.stops.len() - tail) % layout.stops.len());
        }
        assert!(
            order.is_sorted() || layout.door == Side::Right,
            "{} {order:?}",
            layout.name
        );
    }
}

/// 14 CFR 25.1385 (same rule in the old 23.1385): red left, green right.
#[test]
fn position_lights() {
    for layout in Layout::all() {
        for (code, colour, other) in [("550", "red", "green"), ("650", "green", "red")] {
            let stop = layout
                .stops
                .iter()
                .find(|s| s.zones.iter().any(|z| z == code))
                .unwrap();
            let text: String = stop.look_for.iter().map(|l| l.text.as_str()).collect();
            assert!(
                text.contains(&format!("position light: {colour}")),
                "{} {code}",
                layout.name
            );
            assert!(
                !text.contains(&format!("position light: {other}")),
                "{} {code}",
                layout.name
            );
        }
    }
}

#[test]
fn zones_are_found_as_people_say_them() {
    let layout = Layout::built_in("high_wing_strutted_fixed").unwrap();
    for (said, code) in [
        ("733", "733"),
        ("left wheel fairing", "733"),
        ("Left Spat", "733"),
        ("right wheel pant", "734"),
        ("nose wheel", "750"),
        ("windscreen", "210"),
        ("port", ""),
    ] {
        assert_eq!(
            layout
                .find_zone(said)
                .map(|z| z.code.as_str())
                .unwrap_or(""),
            code,
            "{said}"
        );
    }
    let error = layout.find_zone("spat").unwrap_err();
    assert_eq!(error.kind, ErrorKind::Ambiguous);
    let error = layout.find_zone("left weel faring").unwrap_err();
    assert_eq!(error.kind, ErrorKind::Unknown);
    assert!(error.remedy.contains("733 left wheel fairing"), "{error}");
}

#[test]
fn routes_turn_and_reorder() {
    let layout = Layout::built_in("high_wing_strutted_fixed").unwrap();
    let keys = |route: &Route| -> Vec<String> {
        layout
            .route(route)
            .unwrap()
            .iter()
            .map(|stop| stop.key.clone())
            .collect()
    };
    let published = keys(&Route::published());
    let turned = keys(&Route::turned());
    assert_eq!(published[..2], turned[..2]);
    assert_eq!(
        published[2..].iter().rev().collect::<Vec<_>>(),
        turned[2..].iter().collect::<Vec<_>>()
    );
    let own = keys(&Route {
        order: vec!["propeller".into(), "tail".into()],
        ..Route::published()
    });
    assert_eq!(own[..2], ["propeller", "tail"]);
    assert_eq!(own.len(), published.len());
    let wrong = layout.route(&Route {
        start: Some("tial".into()),
        ..Route::published()
    });
    assert_eq!(wrong.unwrap_err().remedy, "did you mean \"tail\"?");
    let twice = layout.route(&Route {
        order: vec!["tail".into(), "tail".into()],
        ..Route::published()
    });
    assert_eq!(twice.unwrap_err().kind, ErrorKind::BadValue);
}

fn own(zones: &str, stops: &str) -> LayoutCheck {
    let head = "name = \"mine\"\ntitle = \"Mine\"\nedition = \"1\"\n";
    check_toml(&format!("{head}{zones}{stops}"))
}

/// Every mistake a user's file may hold, with the line it stands on.
#[test]
fn mistakes_of_a_users_file_are_told() {
    let check = own(
        "[[zone]]\ncode = \"110\"\nname = \"belly\"\nwithin = \"120\"\n\
         [[zone]]\ncode = \"120\"\nname = \"aft belly\"\nwithin = \"110\"\n\
         [[zone]]\ncode = \"120\"\nname = \"again\"\n\
         [[zone]]\ncode = \"7x\"\nname = \"gear\"\npair = \"110\"\n",
        "[[stop]]\nkey = \"all\"\nname = \"All\"\nzones = [\"110\", \"121\", \"7x\"]\ncautions = [\"propellor\"]\n",
    );
    let text = check.to_text();
    assert!(!check.usable);
    for wanted in [
        "line 7: the zones lie in one another in a loop: 110 in 120 in 110; take one \"within\" out",
        "line 9: no stop covers zone 120",
        "line 13: zone 120 is already on line 9",
        "line 16: the code \"7x\" is not three digits",
        "line 18: zone 7x is paired with 110, but not the other way",
        "line 22: stop all names zone 121, which does not exist; did you mean \"120\"?",
        "line 23: there is no caution \"propellor\"; did you mean \"propeller\"?",
    ] {
        assert!(text.contains(wanted), "missing: {wanted}\nin:\n{text}");
    }
}

#[test]
fn overlaps_must_be_declared() {
    let zone = |code: &str, extra: &str, points: &str| {
        format!(
            "[[zone]]\ncode = \"{code}\"\nname = \"z{code}\"\n{extra}shape = [{{ view = \"plan\", points = \"{points}\" }}]\n"
        )
    };
    let stops = "[[stop]]\nkey = \"all\"\nname = \"All\"\nzones = [\"110\", \"120\"]\n[[outline]]\nview = \"plan\"\ntitle = \"Plan\"\n";
    let big = "0,0 10,0 10,10 0,10";
    let small = "2,2 5,2 5,5 2,5";
    let check = own(&(zone("110", "", big) + &zone("120", "", small)), stops);
    assert!(
        check
            .to_text()
            .contains("zones 110 and 120 overlap on the drawing plan"),
        "{}",
        check.to_text()
    );
    let check = own(
        &(zone("110", "", big) + &zone("120", "within = \"110\"\n", small)),
        stops,
    );
    assert!(check.usable, "{}", check.to_text());
    // The same ground twice: one of them can never be tapped.
    let check = own(
        &(zone("110", "", big) + &zone("120", "within = \"110\"\n", big)),
        stops,
    );
    assert!(
        check.to_text().contains("cannot be tapped"),
        "{}",
        check.to_text()
    );
}

#[test]
fn a_file_of_five_megabytes_is_refused_unread() {
    let check = check_toml(&"x".repeat(5 * 1024 * 1024));
    assert_eq!(check.mistakes.len(), 1);
    assert!(check.mistakes[0].what.contains("at most"));
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config::with_cases(200))]
    /// A built-in file with a piece cut out or noise put in never panics the reader.
    #[test]
    fn damaged_files_never_panic(from in 0usize..60_000, length in 0usize..400, noise in "[\\[\\]{}\"=,a-z0-9\\n.-]{0,12}") {
        let text = embedded::LAYOUTS[0].1;
        let floor = |mut at: usize| { at = at.min(text.len()); while !text.is_char_boundary(at) { at -= 1; } at };
        let (start, end) = (floor(from), floor(from + length));
        let damaged = format!("{}{noise}{}", &text[..start], &text[end.max(start)..]);
        let check = check_toml(&damaged);
        proptest::prop_assert_eq!(check.usable, Layout::parse(&damaged).is_ok());
    }
}
