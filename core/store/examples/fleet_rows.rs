//! Writes the table of an invented fleet, for the checks that ask it questions: `fleet_rows ROWS DIR`.
//! Truth by construction: cracks in zone 733 of type T3 grow by 0.40 mm in 100 h on every aircraft,
//! whatever hours the aircraft had when it was first seen; all else does not grow.
use std::error::Error;
use std::time::Instant;
use witnessmark_store::fleet::{LookRow, SightingRow, Table};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let rows: usize = arguments.next().ok_or("ROWS DIR")?.parse()?;
    let folder = std::path::PathBuf::from(arguments.next().ok_or("ROWS DIR")?);
    let mut state = 1u64;
    // Lehmer's generator (Park and Miller 1988): repeatable, good enough for invented rows.
    let mut random = move || {
        state = state * 48_271 % 2_147_483_647;
        state as f64 / 2_147_483_647.0
    };
    let zones = ["733", "410", "755", "111", "342", "811", "731", "565"];
    let conditions = ["crack", "leak_oil", "corrosion", "dent"];
    let mut sightings = Vec::with_capacity(rows);
    let mut looks = Vec::new();
    let mut n = 0usize;
    while sightings.len() < rows {
        let aircraft = (random() * 240.0) as usize % 240;
        let kind = format!("T{}", aircraft % 6);
        let (zone, condition) = (
            zones[n % zones.len()],
            conditions[(n / 8) % conditions.len()],
        );
        let start_hours = 500.0 + 6_000.0 * random();
        let start_size = 5.0 + 20.0 * random();
        let grows = kind == "T3" && zone == "733" && condition == "crack";
        for k in 0..8 {
            let hours = start_hours + 25.0 * k as f64;
            let month = (n * 3 + k) % 108;
            let date = format!(
                "{:04}-{:02}-{:02}",
                2016 + month / 12,
                1 + month % 12,
                1 + n % 28
            );
            let noise = 0.2 * (random() + random() + random() - 1.5);
            let growth = if grows {
                0.40 * 25.0 * k as f64 / 100.0
            } else {
                0.0
            };
            sightings.push(SightingRow {
                aircraft: format!("{aircraft:064x}"),
                registration: format!("N0{aircraft:03}"),
                kind: kind.clone(),
                zone: zone.to_owned(),
                zone_name: format!("zone {zone}"),
                condition: condition.to_owned(),
                finding: format!("{n:064x}"),
                date: date.clone(),
                hours: Some(hours),
                result: "present".to_owned(),
                value: Some(start_size + growth + noise),
                u: Some(0.2),
                unit: Some("mm".to_owned()),
                open: !n.is_multiple_of(3),
                concern: n.is_multiple_of(5).then(|| "ask".to_owned()),
                ..SightingRow::default()
            });
            looks.push(LookRow {
                aircraft: format!("{aircraft:064x}"),
                registration: format!("N0{aircraft:03}"),
                kind: kind.clone(),
                walkaround: format!("{:064x}", n * 8 + k),
                purpose: "preflight".to_owned(),
                date,
                hours: Some(hours),
                zone: zone.to_owned(),
                zone_name: format!("zone {zone}"),
                looked: ["findings", "nothing_found", "not_looked_at", "not_seen"][(n + k) % 4]
                    .to_owned(),
            });
        }
        n += 1;
    }
    sightings.truncate(rows);
    let started = Instant::now();
    let mut table = Table::default();
    table.sightings(&sightings)?;
    table.looks(&looks)?;
    let written = table.write(&mut |name, bytes| {
        let path = folder.join(name);
        let io = |e: std::io::Error| witnessmark_core::Error::io(&e, path.display());
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).map_err(io)?;
        }
        std::fs::write(&path, bytes).map_err(io)
    })?;
    println!(
        "{} {:.3}",
        serde_json::to_string(&written)?,
        started.elapsed().as_secs_f64()
    );
    Ok(())
}
