//! Writes the table of an invented fleet, for the checks that ask it questions: `fleet_rows ROWS DIR
//! [PLAIN]`. Truth by construction: cracks in zone 733 of type T3 grow by 0.40 mm in 100 h on every
//! aircraft, whatever hours the aircraft had when it was first seen; all else does not grow. Every fourth
//! finding is treated half-way and starts anew, smaller. Every second aircraft is measured in inches.
//! `PLAIN` is a folder for the same rows as CSV, sizes in mm as they were invented and before any
//! conversion, so that a check need not believe what the table says.
use std::error::Error;
use std::io::Write;
use std::time::Instant;
use witnessmark_core::quantity::{Rational, Unit};
use witnessmark_store::fleet::{LookRow, SightingRow, Table};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let rows: usize = arguments.next().ok_or("ROWS DIR")?.parse()?;
    let folder = std::path::PathBuf::from(arguments.next().ok_or("ROWS DIR")?);
    let plain = arguments.next().map(std::path::PathBuf::from);
    let mut sizes = Vec::new();
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
            let treated = n.is_multiple_of(4) && k >= 4;
            let size = start_size + growth + noise - if treated { 3.0 } else { 0.0 };
            // In micrometres, so that what is written is exact.
            let um = (size * 1000.0).round() as i64;
            sizes.push(um as f64 / 1000.0);
            let mut row = SightingRow {
                aircraft: format!("{aircraft:064x}"),
                registration: format!("N0{aircraft:03}"),
                kind: kind.clone(),
                zone: zone.to_owned(),
                zone_name: format!("zone {zone}"),
                condition: condition.to_owned(),
                finding: format!("{n:064x}"),
                date: date.clone(),
                hours: Some(hours),
                result: if k == 5 && n.is_multiple_of(7) {
                    "not_found"
                } else {
                    "present"
                }
                .to_owned(),
                series: i32::from(treated),
                open: !n.is_multiple_of(3),
                concern: n.is_multiple_of(5).then(|| "ask".to_owned()),
                ..SightingRow::default()
            };
            if row.result == "present" {
                let number =
                    |top: i64, bottom: i128| Rational::new(top.into(), bottom).ok_or("no number");
                if aircraft % 2 == 0 {
                    row.measured(
                        "length",
                        "ruler",
                        &number(um, 1000)?,
                        Some(&number(2, 10)?),
                        Unit::Millimetre,
                    );
                } else {
                    row.measured(
                        "length",
                        "card",
                        &number(um, 25_400)?,
                        Some(&number(2, 254)?),
                        Unit::Inch,
                    );
                }
            }
            sightings.push(row);
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
    if let Some(plain) = plain {
        let mut out = std::io::BufWriter::new(std::fs::File::create(plain.join("sightings.csv"))?);
        writeln!(
            out,
            "aircraft,registration,type,zone,condition,finding,date,hours,result,mm,series,open,concern"
        )?;
        for (row, mm) in sightings.iter().zip(&sizes) {
            let SightingRow {
                aircraft,
                registration,
                kind,
                zone,
                condition,
                finding,
                date,
                result,
                series,
                open,
                ..
            } = row;
            let hours = row.hours.unwrap_or_default();
            let concern = row.concern.as_deref().unwrap_or_default();
            let mm = if result == "present" {
                format!("{mm:.3}")
            } else {
                String::new()
            };
            writeln!(
                out,
                "{aircraft},{registration},{kind},{zone},{condition},{finding},{date},{hours},{result},{mm},{series},{open},{concern}"
            )?;
        }
        let mut out = std::io::BufWriter::new(std::fs::File::create(plain.join("looks.csv"))?);
        writeln!(out, "aircraft,registration,type,zone,date,looked")?;
        for row in &looks {
            let (kind, zone) = (&row.kind, &row.zone);
            let (date, looked) = (&row.date, &row.looked);
            writeln!(
                out,
                "{},{},{kind},{zone},{date},{looked}",
                row.aircraft, row.registration
            )?;
        }
    }
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
