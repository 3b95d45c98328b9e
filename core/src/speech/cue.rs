//! What a word or phrase does: the code knows these, never words.

use serde::Deserialize;

/// What a word or phrase does in a sentence. One list of phrases each in the words file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Cue {
    /// Denies what follows: `no`, `isn't`, `free of`.
    Negation,
    /// Denies what stands before it: `crack free`.
    NegationAfter,
    /// Looks like a denial and is none: `no doubt`, `not sure`.
    NotNegation,
    /// `no longer`, `any more`: it was there and is not.
    NoLonger,
    /// What was said last is replaced: `sorry`, `I mean`, `make that`.
    Correction,
    /// `no` between two things of one kind.
    CorrectionNo,
    /// `just`, `only`: what follows a denied condition instead of it.
    Instead,
    /// `but`, `except`: a denial ends here.
    But,
    /// `and`, `plus`.
    And,
    /// `or`.
    Or,
    /// `about`, `just over`, `less than`.
    HedgeBefore,
    /// `or so`, `give or take`.
    HedgeAfter,
    /// `between`.
    Between,
    /// `to`, `through`: joins two ends of a range.
    To,
    /// `from`.
    From,
    /// `by` between two sizes.
    By,
    /// `runs`, `extends`: the number that follows is a size, whatever direction stands behind it.
    Extends,
    /// Sounds like a number: `to`, `too`, `for`.
    SoundsTwo,
    /// `for`, `fore`.
    SoundsFour,
    /// It is worse than before.
    Worse,
    /// It is as before.
    Same,
    /// It is less than before.
    Less,
    /// It is not there any more.
    Gone,
    /// It was not there before.
    New,
    /// A verb of growth that takes an amount or two sizes: `grown`, `went`.
    Grown,
    /// A verb of shrinking that takes an amount.
    Shrunk,
    /// Introduces an earlier size: `was`, `used to be`, `up from`.
    Earlier,
    /// Introduces the present size: `now`.
    Now,
    /// Basis: by touch.
    Felt,
    /// Basis: measured.
    Measured,
    /// Basis: somebody said so.
    Told,
    /// Basis: written somewhere.
    Read,
    /// Basis: seen.
    Seen,
    /// A look that found nothing.
    NothingFound,
    /// Nothing found, only with a place named in the same breath: `fine`, `OK`.
    FineHere,
    /// A look that could not be made.
    NotSeen,
    /// Somebody teaches or speaks of what may be in general.
    Teaching,
    /// Somebody states a limit or a rule.
    Limit,
    /// Radio talk.
    Radio,
    /// Another aircraft.
    OtherAircraft,
    /// Things that are not this aircraft.
    OtherThings,
    /// Talk, plans, requests.
    Talk,
    /// A question put to somebody.
    Asking,
    /// Something that was put right or is over.
    Past,
    /// Phrases with a trade word that mean something else: `crack on`.
    Idiom,
    /// Left.
    Left,
    /// Right.
    Right,
    /// Both sides.
    Both,
    /// Length: `long`.
    Length,
    /// Width.
    Width,
    /// Depth.
    Depth,
    /// Diameter: `across`.
    Diameter,
    /// Height.
    Height,
    /// Thickness.
    Thickness,
    /// Area.
    Area,
    /// Gap, play.
    Gap,
    /// `is`, `measures`: a number that follows is a size.
    Measures,
    /// A direction that makes a position of a size: `aft of`, `from`.
    Direction,
    /// `under`, `underneath`: of a wing it means the lower side.
    Under,
    /// `near`, `against`: what follows tells where something is, and is not the place itself.
    Landmark,
    /// `with`, `full of`: what follows is what something is blocked with, no defect of its own.
    Filled,
    /// Adjectives that are said for a whole leg: `main`, `nose`.
    Lone,
    /// `has`, `is`: the thing before it is what a sentence is about.
    Verb,
    /// `longer than last time`, behind a size: it is an amount of growth.
    GrownAfter,
    /// `shorter than last time`, behind a size.
    ShrunkAfter,
    /// Parts finer than any zone.
    Part,
    /// Words that go before a part: `lower`, `aft`.
    PartModifier,
    /// Parts that carry a number: `blade`, `rib`.
    Designator,
    /// `number`.
    NumberWord,
    /// `o'clock`.
    OClock,
    /// `station`.
    Station,
    /// `the`, `a`.
    Determiner,
    /// `in`, `on`, `at`, `near`.
    Preposition,
    /// `it`, `this`.
    Pronoun,
    /// `per`, `a` between a count and a time.
    Per,
    /// Units of time.
    TimeUnit,
    /// `ago`, `since`, months: a date of before.
    Date,
    /// `another`, `the other`.
    Another,
    /// Not certain: `maybe`, `looks like`.
    Unsure,
    /// Said without meaning: `um`, `okay`.
    Filler,
    /// Goes with a command: `please`, `can you`.
    Polite,
    /// Reading: oil found.
    OilFound,
    /// Reading: oil added.
    OilAdded,
    /// Reading: pressure.
    Pressure,
    /// Reading: fuel.
    Fuel,
    /// Reading: hours on a meter.
    Hours,
    /// Reading: landings.
    Landings,
    /// Reading: strut extension.
    Extension,
    /// Reading: fuel sample.
    Sample,
    /// Command.
    Photo,
    /// Command.
    Next,
    /// Command.
    Back,
    /// Command.
    Repeat,
    /// Command.
    Keep,
    /// Command.
    Discard,
    /// Command.
    Undo,
    /// Command.
    Stop,
    /// Command.
    Measure,
    /// Command.
    Show,
    /// Command.
    Concern,
    /// Command.
    Finish,
}

impl Cue {
    /// The command of this cue, if it is one.
    pub fn command(self) -> Option<&'static str> {
        Some(match self {
            Self::Photo => "photo",
            Self::Next => "next",
            Self::Back => "back",
            Self::Repeat => "repeat",
            Self::Keep => "keep",
            Self::Discard => "discard",
            Self::Undo => "undo",
            Self::Stop => "stop",
            Self::Measure => "measure",
            Self::Show => "show",
            Self::Concern => "concern",
            Self::Finish => "finish",
            _ => return None,
        })
    }

    /// True for the cues that make a saying a remark.
    pub fn remark(self) -> bool {
        matches!(
            self,
            Self::Teaching
                | Self::Limit
                | Self::Radio
                | Self::OtherAircraft
                | Self::OtherThings
                | Self::Talk
                | Self::Asking
                | Self::Past
        )
    }
}
