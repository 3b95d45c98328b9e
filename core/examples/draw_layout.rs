//! Prints the station and zone diagram of a built-in layout, or of a layout file, as SVG:
//! `cargo run --release -p witnessmark-core --example draw_layout high_wing_strutted_fixed > diagram.svg`
use witnessmark_core::layout::{Callout, DiagramOptions, Hatch, Layout, check_toml, diagram};

fn main() {
    let name = std::env::args().nth(1).unwrap_or_default();
    let own = std::fs::read_to_string(&name).ok();
    if let Some(text) = &own {
        eprint!("{}", check_toml(text).to_text());
    }
    let own = own.and_then(|text| Layout::parse(&text).ok());
    let Some(layout) = own.as_ref().or_else(|| Layout::built_in(&name)) else {
        for layout in Layout::all() {
            eprintln!("{}  {}", layout.name, layout.title);
        }
        return;
    };
    let options = DiagramOptions {
        hatched: vec![
            ("733".into(), Hatch::Crossed),
            ("731".into(), Hatch::Slanted),
            ("620".into(), Hatch::Specks),
            ("535".into(), Hatch::Level),
        ],
        legend: vec![
            (Hatch::Crossed, "worse than before".into()),
            (Hatch::Slanted, "open, no change shown".into()),
            (Hatch::Level, "could not be seen".into()),
            (Hatch::Specks, "not looked at since spring".into()),
        ],
        callouts: vec![
            Callout {
                zone: "733".into(),
                text: "left wheel fairing, lower aft screw: crack, worse".into(),
            },
            Callout {
                zone: "731".into(),
                text: "left brake, caliper: seep".into(),
            },
            Callout {
                zone: "560".into(),
                text: "left aileron, outboard hinge: play".into(),
            },
        ],
        ..DiagramOptions::default()
    };
    print!("{}", diagram(layout, &options).svg);
}
