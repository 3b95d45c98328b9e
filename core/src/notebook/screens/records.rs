//! What each screen shows, as plain records.
//!
//! Declared once: the macro makes the structs here and, for the door (`bindings/ffi`), a macro that
//! hands the same declarations to the binding generator, so that no second list can differ. (Rival:
//! deriving the bindings' traits here behind a feature, refused since the core would then know its
//! shells and be built twice.) Digests are 64 hexadecimal digits; dates are `YYYY-MM-DD`; texts are
//! whole words or sentences to be shown as they are.

macro_rules! screens {
    ($($(#[$($m:tt)*])* pub struct $name:ident {
        $($(#[$($fm:tt)*])* pub $field:ident : $ty:ty,)*
    })*) => {
        $($(#[$($m)*])*
        #[derive(Debug, Clone, PartialEq, Default, serde::Serialize)]
        pub struct $name { $($(#[$($fm)*])* pub $field: $ty,)* })*

        /// Expands to every record of the screens, declared for the binding generator.
        #[macro_export]
        macro_rules! screen_records {
            () => {
                $(#[uniffi::remote(Record)]
                $(#[$($m)*])*
                pub struct $name { $($(#[$($fm)*])* pub $field: $ty,)* })*
            };
        }
    };
}

screens! {
    /// Something to choose, with its words.
    pub struct Choice {
        /// Word that calls take.
        pub key: String,
        /// Words for people.
        pub title: String,
    }

    /// One of the three things that a first start asks.
    pub struct FirstAsk {
        /// `name`, `role` or `aircraft`.
        pub key: String,
        /// The question.
        pub asked: String,
        /// What the answer is for and who sees it.
        pub why: String,
        /// Answers that can be tapped; empty for a free answer.
        pub choices: Vec<Choice>,
    }

    /// The first start: three things asked, nothing sent anywhere.
    pub struct FirstStartView {
        /// What this is, in one sentence.
        pub says: String,
        /// Exactly three.
        pub asks: Vec<FirstAsk>,
        /// Ways that an aircraft may be laid out, for the third.
        pub layouts: Vec<Choice>,
        /// What it is not, and where the data is.
        pub caution: String,
    }

    /// One aircraft in the list.
    pub struct AircraftLine {
        /// Id, 64 hexadecimal digits.
        pub id: String,
        /// Registration.
        pub registration: String,
        /// Type.
        pub type_name: String,
        /// Serial.
        pub serial: Option<String>,
        /// Name of the layout.
        pub layout: Option<String>,
        /// Findings that are open.
        pub open_findings: u32,
        /// A walkaround of this author is open.
        pub walking: bool,
        /// All of it as one sentence.
        pub says: String,
    }

    /// What a stop offers, largest first in the order of the hand.
    pub struct Action {
        /// `photo`, `voice`, `write`, `nothing_found`, `not_seen`, `paper`, `reading`, `measure`,
        /// `again`, `view`.
        pub key: String,
        /// Words on it.
        pub title: String,
        /// `main`, `usual` or `small`; what is not offered for this purpose is not in the list.
        pub size: String,
    }

    /// One thing to look for.
    pub struct LookForLine {
        /// What.
        pub text: String,
        /// Document, edition, paragraph; or that it is common practice without a source.
        pub source: String,
    }

    /// One zone as a stop or a picker shows it.
    pub struct ZoneLine {
        /// Three digits.
        pub code: String,
        /// Name.
        pub name: String,
        /// `not_looked_at`, `nothing_found`, `findings`, `not_seen`: of this author's open walkaround.
        pub look: String,
        /// The same in words.
        pub look_says: String,
        /// Findings open here.
        pub open_findings: u32,
    }

    /// One stop in the list of a walk.
    pub struct StopLine {
        /// Word that calls take.
        pub key: String,
        /// Name.
        pub name: String,
        /// Zones looked at in this walkaround.
        pub looked: u32,
        /// Zones of it.
        pub zones: u32,
        /// Findings that were open before.
        pub earlier_findings: u32,
        /// "2 of 5 looked at".
        pub says: String,
    }

    /// The walk: the route in order and where it stands.
    pub struct WalkView {
        /// Aircraft.
        pub aircraft: String,
        /// Registration.
        pub registration: String,
        /// The open walkaround of this author.
        pub walkaround: Option<String>,
        /// Its purpose; `routine` rules apply where none was said.
        pub purpose: Option<String>,
        /// Purpose in words.
        pub purpose_says: String,
        /// Stops in the order of the route.
        pub stops: Vec<StopLine>,
        /// Stop that is next: the first with something not looked at.
        pub next_stop: Option<String>,
        /// Captures without a place.
        pub unplaced: u32,
        /// Sentences to show: a newer version wrote something, a hold is on, the clock is odd.
        pub notices: Vec<String>,
    }

    /// The stop: what a person sees on the ramp.
    pub struct StopView {
        /// Aircraft.
        pub aircraft: String,
        /// Registration, so that the wrong aircraft is noticed.
        pub registration: String,
        /// Word that calls take.
        pub key: String,
        /// Name.
        pub name: String,
        /// "Stop 4 of 17".
        pub position: String,
        /// Zones in the order to look at them.
        pub zones: Vec<ZoneLine>,
        /// What to look for.
        pub look_for: Vec<LookForLine>,
        /// What can hurt somebody here.
        pub cautions: Vec<String>,
        /// Findings open here from before: how many; they are opened after the look.
        pub earlier_findings: u32,
        /// The same in words; empty for none.
        pub earlier_says: String,
        /// What is offered, ordered and sized by what the walkaround is for.
        pub actions: Vec<Action>,
        /// Fixed overall views to take here for this purpose.
        pub views: Vec<Choice>,
        /// Next stop of the route.
        pub next_stop: Option<String>,
        /// Its name.
        pub next_name: Option<String>,
        /// The one before.
        pub previous_stop: Option<String>,
    }

    /// What *looked, nothing found, next* did.
    pub struct NextView {
        /// The look, if one was written.
        pub entry: Option<String>,
        /// A walkaround that was started because none was open.
        pub started: Option<String>,
        /// Open findings of these zones that were not asked about.
        pub not_asked: Vec<FindingLine>,
        /// The next stop.
        pub stop: Option<String>,
        /// What was saved, for a live region.
        pub says: String,
    }

    /// What is left to look at.
    pub struct LeftView {
        /// Stops with something left, in the order of the route.
        pub stops: Vec<LeftStop>,
        /// Zones left.
        pub zones: u32,
        /// Captures without a place.
        pub unplaced: u32,
        /// In words.
        pub says: String,
        /// "Not looked at" is not "nothing found".
        pub caution: String,
    }

    /// A stop with something left.
    pub struct LeftStop {
        /// Word that calls take.
        pub key: String,
        /// Name.
        pub name: String,
        /// Zones that nobody of this walkaround looked at.
        pub zones: Vec<Choice>,
    }

    /// A capture that was kept.
    pub struct CapturedView {
        /// Its entry, 64 digits.
        pub entry: String,
        /// SHA-256 of the file.
        pub file: Option<String>,
        /// Media type by content.
        pub media: String,
        /// The same bytes were here before.
        pub known: bool,
        /// False if the file has no end; absent where it cannot be told.
        pub complete: Option<bool>,
        /// Zone, if it has one.
        pub zone: Option<String>,
        /// What was saved, for a live region.
        pub says: String,
        /// Oddities in plain words.
        pub notices: Vec<String>,
    }

    /// One capture in a list.
    pub struct CaptureLine {
        /// Its entry.
        pub entry: String,
        /// photo, voice, paper or note.
        pub kind: String,
        /// When and at which stop, in words.
        pub says: String,
        /// Words of a note or of a recording.
        pub text: Option<String>,
        /// Path of the original, if it is here.
        pub path: Option<String>,
        /// EXIF orientation 1 to 8 of a picture.
        pub orientation: u8,
        /// True if it has no aircraft yet.
        pub loose: bool,
        /// Zones likely by where the person stood, first ones first.
        pub near: Vec<Choice>,
    }

    /// What waits for a place.
    pub struct UnplacedView {
        /// In order of time.
        pub captures: Vec<CaptureLine>,
        /// In words.
        pub says: String,
    }

    /// A question of a draft.
    pub struct QuestionLine {
        /// `number`, `unit`, `side`, `zone`, `condition` or `negation`.
        pub about: String,
        /// The sentence to show or speak.
        pub asked: String,
        /// Answers that can be tapped.
        pub choices: Vec<String>,
    }

    /// A draft: what was understood, to be accepted, answered or thrown away.
    pub struct DraftView {
        /// Opaque: handed back to answer and keep.
        pub draft: String,
        /// `finding`, `look`, `command` or `remark`.
        pub kind: String,
        /// The sentence to show and to speak.
        pub read_back: String,
        /// What each item will become, one line each.
        pub lines: Vec<String>,
        /// Questions in the order to ask them.
        pub questions: Vec<QuestionLine>,
        /// A spoken command, one of the twelve.
        pub command: Option<String>,
        /// Words that went nowhere; they are kept with the note.
        pub left_over: String,
        /// May be kept now: nothing is open and it is no command.
        pub may_keep: bool,
    }

    /// What keeping a draft wrote.
    pub struct KeptView {
        /// Findings opened.
        pub opened: Vec<String>,
        /// Findings seen again.
        pub sighted: Vec<String>,
        /// Looks.
        pub looks: Vec<String>,
        /// Readings.
        pub readings: Vec<String>,
        /// Words kept as they were.
        pub notes: Vec<String>,
        /// What was saved, for a live region.
        pub says: String,
    }

    /// One finding in a list.
    pub struct FindingLine {
        /// Id.
        pub id: String,
        /// Short form: zone code and five digits.
        pub short: String,
        /// Zone code.
        pub zone: String,
        /// Place and condition.
        pub title: String,
        /// Latest change against the first of its series, in words.
        pub says: String,
        /// worse, same, less, not_comparable or first.
        pub change: String,
        /// Open.
        pub open: bool,
        /// Gravest concern of any author, in words.
        pub concern: Option<String>,
    }

    /// One line of a finding's story.
    pub struct StoryLine {
        /// The line.
        pub entry: String,
        /// Date.
        pub date: String,
        /// By whom.
        pub by: String,
        /// Airframe total time.
        pub hours: Option<String>,
        /// present, not_found, could_not_check, or step.
        pub kind: String,
        /// What was seen or done.
        pub says: String,
        /// Against the one before, in words; empty if nothing can be compared.
        pub change: String,
        /// Value for drawing, in `unit`.
        pub value: Option<f64>,
        /// Standard uncertainty in `unit`.
        pub u: Option<f64>,
        /// Unit symbol.
        pub unit: Option<String>,
        /// Photos that show it.
        pub photos: Vec<PhotoLine>,
    }

    /// A photo of a finding or zone.
    pub struct PhotoLine {
        /// Its entry.
        pub entry: String,
        /// Date.
        pub date: String,
        /// Path of the original.
        pub path: String,
        /// EXIF orientation 1 to 8.
        pub orientation: u8,
        /// What was measured on it for this finding, last: x and y in turn, pixels of the upright picture.
        pub line: Vec<f64>,
        /// The line closes: an outline, not a length.
        pub closed: bool,
    }

    /// The finding.
    pub struct FindingScreen {
        /// The same as in lists.
        pub line: FindingLine,
        /// Zone name.
        pub zone_name: String,
        /// Condition key.
        pub condition: String,
        /// Condition in words.
        pub condition_title: String,
        /// Words for the place.
        pub part: Option<String>,
        /// What is honest not to know.
        pub unsure: Vec<String>,
        /// First recorded: when and by whom.
        pub first: String,
        /// Sightings and steps, oldest first.
        pub story: Vec<StoryLine>,
        /// Photos hung on it, oldest first.
        pub photos: Vec<PhotoLine>,
        /// What to measure, with units and methods.
        pub quantities: Vec<QuantityLine>,
        /// Ordered states to choose from; empty where there are none.
        pub steps: Vec<Choice>,
        /// Questions whose answers the measure needs.
        pub asks: Vec<AskLine>,
        /// Cautions of the condition.
        pub cautions: Vec<String>,
        /// A limit that a person set, with its source.
        pub limit: Option<String>,
        /// When to look again.
        pub again: Option<String>,
        /// Other authors' concerns, by name.
        pub concerns: Vec<String>,
    }

    /// One thing that can be measured.
    pub struct QuantityLine {
        /// Word that calls take.
        pub name: String,
        /// Words for people.
        pub title: String,
        /// Unit symbols, the usual first.
        pub units: Vec<String>,
        /// Ways to measure it.
        pub methods: Vec<Choice>,
    }

    /// A question whose answer a measure needs.
    pub struct AskLine {
        /// Word that calls take.
        pub key: String,
        /// The question.
        pub asked: String,
        /// Answers; empty for a free answer.
        pub choices: Vec<String>,
        /// Unit of a numeric answer.
        pub unit: Option<String>,
    }

    /// A kind of defect to choose.
    pub struct ConditionLine {
        /// Word that calls take.
        pub key: String,
        /// Words for people.
        pub title: String,
        /// What it means and what it is mistaken for.
        pub meaning: String,
        /// Honest answers: "crack or scratch, unsure".
        pub honest: Vec<String>,
        /// What to measure.
        pub quantities: Vec<QuantityLine>,
        /// Ordered states.
        pub steps: Vec<Choice>,
        /// Cautions.
        pub cautions: Vec<String>,
    }

    /// One look at a zone.
    pub struct LookLine {
        /// Walkaround.
        pub walkaround: String,
        /// Date.
        pub date: String,
        /// By whom.
        pub by: String,
        /// Hours.
        pub hours: Option<String>,
        /// findings, nothing_found, not_seen or not_looked_at.
        pub look: String,
        /// In words.
        pub says: String,
    }

    /// A zone's history.
    pub struct ZoneScreen {
        /// Code.
        pub code: String,
        /// Name.
        pub name: String,
        /// One line a walkaround, oldest first, *not looked at* among them.
        pub looks: Vec<LookLine>,
        /// Findings here, deteriorated first.
        pub findings: Vec<FindingLine>,
        /// Photos and notes here, oldest first.
        pub captures: Vec<CaptureLine>,
        /// In one sentence.
        pub says: String,
    }

    /// One kind of reading with the last value.
    pub struct ReadingLine {
        /// Word that calls take.
        pub key: String,
        /// Words for people.
        pub title: String,
        /// Unit symbols to offer, the usual first.
        pub units: Vec<String>,
        /// Last value with date; empty for none.
        pub last: String,
        /// The value is a number; otherwise words, `choices` the usual ones.
        pub number: bool,
        /// Usual words, where the value is none.
        pub choices: Vec<String>,
        /// Questions whose answers make two values comparable: `write_reading` takes the answers under
        /// their keys.
        pub asks: Vec<AskLine>,
        /// Zones where it is read; empty where it is of the whole aircraft.
        pub zones: Vec<Choice>,
    }

    /// Readings: what can be read and what was.
    pub struct ReadingsView {
        /// Kinds, in the order of the walk.
        pub kinds: Vec<ReadingLine>,
        /// Values, newest first, in words.
        pub values: Vec<String>,
    }

    /// Look again: how many and with what before the walk, where only after the look.
    pub struct AgainView {
        /// How many places.
        pub count: u32,
        /// Tools to take along.
        pub tools: Vec<String>,
        /// In words.
        pub says: String,
        /// Findings of zones that were looked at in this walkaround; the others stay covered.
        pub shown: Vec<FindingLine>,
        /// How many are still covered.
        pub covered: u32,
    }

    /// A kind of event.
    pub struct EventLine {
        /// Word that calls take.
        pub key: String,
        /// Words for people.
        pub title: String,
        /// What counts as one.
        pub words: String,
    }

    /// Where to look after an event.
    pub struct EventPlaceLine {
        /// Zone code.
        pub zone: String,
        /// Zone name.
        pub name: String,
        /// What to look for.
        pub look_for: Vec<LookForLine>,
    }

    /// An event: what to ask, where to look, what a look cannot settle.
    pub struct EventView {
        /// Word that calls take.
        pub key: String,
        /// Words for people.
        pub title: String,
        /// What a look cannot settle.
        pub cannot_clear: String,
        /// Questions for the person who was there.
        pub asks: Vec<String>,
        /// Cautions.
        pub cautions: Vec<String>,
        /// Where to look, in order.
        pub places: Vec<EventPlaceLine>,
        /// Evidence must not be removed until somebody lifts the hold.
        pub hold: bool,
        /// Where the list comes from.
        pub source: String,
    }

    /// A finished walkaround.
    pub struct FinishView {
        /// The finish line.
        pub entry: String,
        /// Proof code, in fours.
        pub proof_code: String,
        /// The proof code as QR, SVG text.
        pub qr_svg: String,
        /// What it is worth.
        pub says: String,
    }

    /// A pack that was made.
    pub struct PackedView {
        /// Where it is.
        pub path: String,
        /// Entries in it.
        pub entries: u64,
        /// Originals in it.
        pub files: u64,
        /// Bytes.
        pub bytes: u64,
        /// Files and slips left out as asked.
        pub withheld: u64,
        /// In words, with what is under no finish yet.
        pub says: String,
    }

    /// One row of a check.
    pub struct VerifyLine {
        /// Stable code.
        pub code: String,
        /// `failure`, `hint` or `in_order`.
        pub status: String,
        /// File, with the line's number.
        pub file: String,
        /// Walkaround, zone and finding that it touches, in words.
        pub touches: String,
        /// What is so.
        pub what: String,
        /// What to do.
        pub what_to_do: String,
    }

    /// A check of the whole notebook or of a pack.
    pub struct VerifyView {
        /// Failures first, then hints.
        pub rows: Vec<VerifyLine>,
        /// True if any row is a failure.
        pub failed: bool,
        /// What was checked, in one sentence.
        pub says: String,
        /// What all this is worth.
        pub worth: String,
    }

    /// What was taken in.
    pub struct ReceivedView {
        /// Refused whole: nothing was taken in.
        pub refused: bool,
        /// New entries.
        pub entries: u64,
        /// Entries that were here already.
        pub known: u64,
        /// New originals.
        pub files: u64,
        /// Files left for the others (exchange only).
        pub left: u64,
        /// In words.
        pub says: String,
        /// Rows of the check.
        pub check: VerifyView,
    }

    /// One step of an exchange through a place that only the shell can reach.
    pub struct ExchangeStep {
        /// True: copy that file of the place to `path`; false: copy what lies at `path` to the place.
        pub get: bool,
        /// Name below the place, with `/`.
        pub name: String,
        /// Path on this device.
        pub path: String,
    }

    /// One turn of such an exchange.
    pub struct ExchangeView {
        /// What the shell is to do now, in this order.
        pub steps: Vec<ExchangeStep>,
        /// True: the exchange is over once these are done. False: hand in the next turn after them.
        pub done: bool,
        /// What came and went so far, over all turns.
        pub received: ReceivedView,
    }

    /// Before handing over: what can be handed over, what should be settled first, what can stay out.
    pub struct HandOverView {
        /// What there is, in one sentence.
        pub says: String,
        /// Cuts of the whole aircraft, the commonest first (one finding's story starts at the finding).
        pub cuts: Vec<Choice>,
        /// What to settle first, sentences; nothing of it keeps anybody from handing over.
        pub first: Vec<String>,
        /// What can be left out and what that means, sentences.
        pub left_out: Vec<String>,
        /// What this is not.
        pub law: String,
    }

    /// Open findings as one QR code.
    pub struct QrView {
        /// SVG text.
        pub svg: String,
        /// The text in it.
        pub text: String,
        /// Findings in it.
        pub findings: u32,
        /// Findings that did not fit, gravest first kept.
        pub left_out: u32,
        /// In words.
        pub says: String,
    }

    /// Open findings to read before a flight.
    pub struct BeforeFlightView {
        /// Open findings, gravest concern first.
        pub findings: Vec<FindingLine>,
        /// Cautions.
        pub cautions: Vec<String>,
        /// Last time somebody read them, in words.
        pub last_read: String,
    }

    /// Settings and where the data is.
    pub struct SettingsView {
        /// The author's name.
        pub name: String,
        /// Role.
        pub role: String,
        /// The key's fingerprint.
        pub author: String,
        /// Folder of the notebook.
        pub folder: String,
        /// Can be written.
        pub writable: bool,
        /// Version of the core.
        pub version: String,
        /// Where the data is and what happens if the phone is lost.
        pub where_the_data_is: String,
        /// What this is not.
        pub law: String,
        /// Oddities met at opening.
        pub notices: Vec<String>,
    }

    /// What was taken back.
    pub struct UndoneView {
        /// The entry.
        pub entry: String,
        /// What it was, in words.
        pub says: String,
    }
}
