//! Prints the station and zone diagram of a built-in layout as SVG:
//! `cargo run --release -p witnessmark-core --example draw_layout high_wing_strutted_fixed > diagram.svg`
use witnessmark_core::layout::{Callout, DiagramOptions, Hatch, Layout, diagram};

fn main() {
    let name = std::env::args().nth(1).unwrap_or_default();
    let Some(layout) = Layout::built_in(&name) else {
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
