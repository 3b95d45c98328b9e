//! First start, choices, aircraft, settings.

use super::records::*;
use super::{counted, number};
use crate::condition::{Condition, Conditions};
use crate::error::Result;
use crate::layout::Layout;
use crate::notebook::Notebook;

/// What this is not; shown in settings and at the first start.
pub(super) const LAW: &str = "This record is not a maintenance record, release, approval or airworthiness decision; it can show what somebody knew and when. The aircraft's own manual and licensed people come first.";

pub(super) fn choice(key: &str, title: &str) -> Choice {
    Choice {
        key: key.to_owned(),
        title: title.to_owned(),
    }
}

/// A word of the record as words: `before_flight` is "before flight".
pub(super) fn plain(word: &str) -> String {
    word.replace('_', " ")
}

/// The first start: three questions, answered without a signal.
pub fn first_start() -> FirstStartView {
    let roles = [
        "owner",
        "pilot",
        "mechanic",
        "inspector",
        "instructor",
        "buyer",
    ];
    let layouts = layout_choices();
    FirstStartView {
        says: "Keeps what was seen on an aircraft: where, when, by whom, how big, and whether it has grown since.".into(),
        asks: vec![
            FirstAsk {
                key: "name".into(),
                asked: "What do others call you?".into(),
                why: "It stands beside what you saw. It can be left out when you hand something over.".into(),
                choices: Vec::new(),
            },
            FirstAsk {
                key: "role".into(),
                asked: "What are you to the aircraft?".into(),
                why: "A claim, shown with your name.".into(),
                choices: roles.iter().map(|role| choice(role, role)).collect(),
            },
            FirstAsk {
                key: "aircraft".into(),
                asked: "Which aircraft, and which of these is it laid out like?".into(),
                why: "The registration as it is painted. The layout gives the stops of the walk; it can be changed later.".into(),
                choices: layouts.clone(),
            },
        ],
        layouts,
        caution: format!("Everything stays on this device until you hand it over. {LAW}"),
    }
}

/// The built-in layouts.
pub fn layout_choices() -> Vec<Choice> {
    Layout::all()
        .iter()
        .map(|layout| choice(&layout.name, &layout.title))
        .collect()
}

/// Purposes of a walkaround, the commonest first.
pub fn purposes() -> Vec<Choice> {
    crate::notebook::walk::PURPOSES
        .iter()
        .map(|key| choice(key, &plain(key)))
        .collect()
}

/// Why a zone could not be seen, or a finding not be checked, the commonest first; a person's own
/// words do as well. Common practice, no source.
pub fn not_seen_reasons() -> Vec<Choice> {
    [
        "covered",
        "closed up",
        "too dark",
        "dirty or wet",
        "out of reach",
        "no time",
    ]
    .iter()
    .map(|words| choice(words, words))
    .collect()
}

/// How a finding was treated: it stays open and a new series begins. A person's own words do as well.
/// Common practice, no source.
pub fn treatments() -> Vec<Choice> {
    [
        ("cleaned", "Cleaned"),
        ("tightened", "Tightened"),
        ("adjusted", "Adjusted"),
        ("stop-drilled", "Stop-drilled"),
        ("dressed", "Dressed or blended out"),
        ("patched", "Patched or taped"),
        ("replaced", "Replaced"),
        ("serviced", "Topped up or serviced"),
    ]
    .iter()
    .map(|(key, title)| choice(key, title))
    .collect()
}

/// When a person may want to look again, for `look_again`; dates and hours can be given as well.
pub fn again_choices() -> Vec<Choice> {
    [
        ("next flight", "Before the next flight"),
        ("10 h", "In 10 hours"),
        ("25 h", "In 25 hours"),
        ("50 h", "In 50 hours"),
    ]
    .iter()
    .map(|(key, title)| choice(key, title))
    .collect()
}

/// Kinds of paper, the commonest first.
pub fn paper_kinds() -> Vec<Choice> {
    [
        ("log_page", "Log page"),
        ("data_plate", "Data plate"),
        ("registration", "Registration"),
        ("meter", "Meter"),
        ("list", "List"),
        ("other", "Another paper"),
    ]
    .iter()
    .map(|(key, title)| choice(key, title))
    .collect()
}

pub(super) fn quantities(condition: &Condition) -> Vec<QuantityLine> {
    condition
        .quantities
        .iter()
        .map(|quantity| QuantityLine {
            name: quantity.name.clone(),
            title: plain(&quantity.name),
            units: quantity
                .units
                .iter()
                .map(|unit| unit.symbol().to_owned())
                .collect(),
            methods: quantity
                .methods
                .iter()
                .map(|method| choice(&method.name, &method.title))
                .collect(),
        })
        .collect()
}

pub(super) fn steps(condition: &Condition) -> Vec<Choice> {
    condition
        .steps
        .iter()
        .map(|step| choice(&step.name, &step.title))
        .collect()
}

/// Every kind of defect, by title.
pub fn condition_list() -> Vec<ConditionLine> {
    let mut list: Vec<ConditionLine> = Conditions::built_in()
        .list
        .iter()
        .map(|condition| ConditionLine {
            key: condition.name.clone(),
            title: condition.title.clone(),
            meaning: condition.meaning.clone(),
            honest: condition.honest.clone(),
            quantities: quantities(condition),
            steps: steps(condition),
            cautions: condition.cautions.clone(),
        })
        .collect();
    list.sort_by(|a, b| a.title.cmp(&b.title));
    list
}

impl Notebook {
    /// The aircraft, by registration.
    ///
    /// # Errors
    /// Those of the index.
    pub fn aircraft_lines(&self) -> Result<Vec<AircraftLine>> {
        self.aircraft_list()?
            .into_iter()
            .map(|row| {
                let walking = self.current_walkaround(&row.id)?.is_some();
                let walk = if walking {
                    "; a walkaround is open"
                } else {
                    ""
                };
                Ok(AircraftLine {
                    says: format!(
                        "{} {}: {} open, {}{walk}",
                        row.registration,
                        row.kind,
                        counted(row.open_findings, "finding"),
                        counted(row.walkarounds, "walkaround"),
                    ),
                    id: row.id.hex(),
                    registration: row.registration,
                    type_name: row.kind,
                    serial: row.serial,
                    layout: row.layout,
                    open_findings: number(row.open_findings),
                    walking,
                })
            })
            .collect()
    }

    /// Settings, and where the data is.
    ///
    /// # Errors
    /// Those of reading the notebook's own file.
    pub fn settings_view(&self) -> Result<SettingsView> {
        let who = crate::notebook::read_manifest(&self.world, &self.root)?.who;
        let (name, role) = self.person(Some(&who)).unwrap_or_default();
        let folder = self.root.display().to_string();
        Ok(SettingsView {
            name,
            role,
            author: self.author.hex(),
            writable: self.signer.is_some(),
            version: env!("CARGO_PKG_VERSION").into(),
            where_the_data_is: format!(
                "Everything is in one folder on this device ({folder}) and nowhere else. If the device is lost and no backup was made, it is gone. A backup holds all of it but your key."
            ),
            folder,
            law: LAW.into(),
            notices: self.oddity_words(),
        })
    }
}
