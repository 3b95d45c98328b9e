//! All phrases of a language, a layout and the conditions in one look-up, and text cut into chunks.

use std::collections::{HashMap, HashSet};

use super::number::{Form, Number, Numbers};
use super::token::{Shape, Token, tokens};
use super::words::{Cue, Words};

/// A trade word that a slip of the keys may have meant.
#[derive(Debug, Clone)]
struct Known {
    word: String,
    id: u32,
    condition: bool,
    /// Letters in it.
    count: usize,
    /// One bit a letter that it has.
    letters: u32,
}

/// One bit for each of the 26 letters that a word has; other characters share the rest.
fn letters(word: &str) -> u32 {
    word.bytes()
        .fold(0, |bits, b| bits | 1 << (b.wrapping_sub(b'a') % 32))
}

/// Words as written and words as said.
type Alike = (Vec<u32>, Vec<u32>);

/// A set of cues.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Cues(u128);

impl Cues {
    pub fn add(&mut self, cue: Cue) {
        self.0 |= 1 << (cue as u32);
    }

    pub fn has(self, cue: Cue) -> bool {
        self.0 & (1 << (cue as u32)) != 0
    }
}

/// Everything that one phrase may be.
#[derive(Debug, Clone, Default)]
pub(crate) struct Entry {
    pub cues: Cues,
    pub conditions: Vec<usize>,
    pub unit: Option<usize>,
    /// Phrases of zones, as indexes into the places' table.
    pub places: Vec<usize>,
    /// A single place word that ends some zone's phrase.
    pub place_word: bool,
}

/// Phrases as a tree over folded words.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tree {
    next: HashMap<(u32, u32), u32>,
    ends: Vec<Option<Entry>>,
}

impl Tree {
    fn node(&mut self, words: &[u32]) -> usize {
        if self.ends.is_empty() {
            self.ends.push(None);
        }
        let mut at = 0u32;
        for word in words {
            let fresh = u32::try_from(self.ends.len()).unwrap_or(u32::MAX);
            let to = *self.next.entry((at, *word)).or_insert(fresh);
            if to == fresh {
                self.ends.push(None);
            }
            at = to;
        }
        at as usize
    }

    pub fn entry(&mut self, words: &[u32]) -> Option<&mut Entry> {
        if words.is_empty() {
            return None;
        }
        let node = self.node(words);
        self.ends
            .get_mut(node)
            .map(|slot| slot.get_or_insert_with(Entry::default))
    }

    /// The longest phrase that starts at `at`: its length in flat words and its node.
    pub(super) fn longest(&self, flat: &[Flat], at: usize) -> Option<(usize, usize)> {
        let mut node = 0u32;
        let mut best = None;
        for (count, word) in flat.get(at..)?.iter().enumerate() {
            if word.word == 0 {
                break;
            }
            match self.next.get(&(node, word.word)) {
                Some(to) => node = *to,
                None => break,
            }
            if self.ends.get(node as usize).is_some_and(Option::is_some) {
                best = Some((count + 1, node as usize));
            }
        }
        best
    }

    pub fn get(&self, node: usize) -> Option<&Entry> {
        self.ends.get(node)?.as_ref()
    }
}

/// A folded word and the token it comes from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Flat {
    pub word: u32,
    pub token: usize,
}

/// A run of tokens with what it may be.
#[derive(Debug, Clone)]
pub(crate) struct Chunk {
    /// First token and one past the last.
    pub tokens: (usize, usize),
    /// Character positions.
    pub span: [usize; 2],
    /// Node in the phrase tree.
    pub node: Option<usize>,
    pub cues: Cues,
    pub number: Option<Number>,
    /// A punctuation mark.
    pub mark: Option<char>,
}

/// Words, phrases and numbers of a language together with the phrases of a layout.
#[derive(Debug, Clone)]
pub(crate) struct Lexicon {
    ids: HashMap<String, u32>,
    pub tree: Tree,
    /// Signs of a remark, looked for anywhere.
    pub remarks: Tree,
    /// Whole sayings that are commands.
    pub commands: HashMap<Vec<u32>, Cue>,
    /// Beginnings of sayings that are commands whatever follows.
    pub command_heads: HashMap<Vec<u32>, Cue>,
    pub polite: Tree,
    /// Key phrases of commands.
    pub keys: Tree,
    /// Words that add nothing to a command.
    pub neutral: HashSet<u32>,
    /// Things that some commands are about.
    pub neutral_things: HashSet<u32>,
    pub numbers: Numbers,
    /// Words that a slip of the keys may have meant, by first letter.
    slips: HashMap<char, Vec<Known>>,
    /// Sound-alikes: first word → what is written, what was said.
    alike: HashMap<u32, Vec<Alike>>,
    /// Real words that are no slips.
    not_slips: HashSet<String>,
    /// Words behind which an adverb changes nothing: `can't`.
    before_skipped: HashSet<u32>,
    /// Adverbs: `quite`, `really`.
    skipped: HashSet<u32>,
}

impl Lexicon {
    pub fn new(words: &Words) -> Self {
        let mut lexicon = Self {
            ids: HashMap::new(),
            tree: Tree::default(),
            remarks: Tree::default(),
            commands: HashMap::new(),
            command_heads: HashMap::new(),
            polite: Tree::default(),
            keys: Tree::default(),
            neutral: HashSet::new(),
            neutral_things: HashSet::new(),
            numbers: Numbers::new(words),
            slips: HashMap::new(),
            alike: HashMap::new(),
            not_slips: words.not_slips.iter().cloned().collect(),
            before_skipped: HashSet::new(),
            skipped: HashSet::new(),
        };
        for word in &words.skip.behind {
            let ids = lexicon.intern(words, word);
            lexicon.before_skipped.extend(ids);
        }
        for word in &words.skip.words {
            let ids = lexicon.intern(words, word);
            lexicon.skipped.extend(ids);
        }
        for (cue, phrases) in words.cues.iter().chain(&words.sayings) {
            // "that's right" is heard as "that right": 's is skipped
            let short = phrases.iter().filter_map(|p| without_is(p));
            for phrase in phrases.iter().cloned().chain(short) {
                if let Some(head) = phrase.strip_suffix(" *") {
                    let ids = lexicon.intern(words, head);
                    lexicon.command_heads.entry(ids).or_insert(*cue);
                    continue;
                }
                let ids = lexicon.intern(words, &phrase);
                if cue.command().is_some() {
                    lexicon.commands.entry(ids).or_insert(*cue);
                    continue;
                }
                let tree = if cue.remark() {
                    &mut lexicon.remarks
                } else if *cue == Cue::Polite {
                    &mut lexicon.polite
                } else {
                    &mut lexicon.tree
                };
                if let Some(entry) = tree.entry(&ids) {
                    entry.cues.add(*cue);
                }
            }
        }
        for (cue, phrases) in &words.command_keys {
            for phrase in phrases {
                let ids = lexicon.intern(words, phrase);
                if let Some(entry) = lexicon.keys.entry(&ids) {
                    entry.cues.add(*cue);
                }
            }
        }
        for word in &words.neutral {
            let ids = lexicon.intern(words, word);
            lexicon.neutral.extend(ids);
        }
        for word in &words.neutral_things {
            let ids = lexicon.intern(words, word);
            lexicon.neutral_things.extend(ids);
        }
        for (index, unit) in words.units.iter().enumerate() {
            for phrase in &unit.said {
                let ids = lexicon.intern(words, phrase);
                if let Some(entry) = lexicon.tree.entry(&ids) {
                    entry.unit = Some(index);
                }
            }
        }
        lexicon
    }

    /// Folded words of a phrase as numbers, new ones taken in.
    pub fn intern(&mut self, words: &Words, phrase: &str) -> Vec<u32> {
        folded(words, &tokens(phrase))
            .into_iter()
            .map(|(word, _)| {
                let fresh = u32::try_from(self.ids.len() + 1).unwrap_or(u32::MAX);
                *self.ids.entry(word).or_insert(fresh)
            })
            .collect()
    }

    /// The number of a folded word; 0 if no phrase has it.
    pub fn id(&self, word: &str) -> u32 {
        self.ids.get(word).copied().unwrap_or(0)
    }

    /// Makes the words of a trade phrase forgiving of slips of the keys.
    pub fn forgive(&mut self, words: &Words, phrase: &str, condition: bool) {
        for token in tokens(phrase).iter().filter(|t| t.is_word()) {
            let word = words.fold(&token.text);
            let id = self.id(&word);
            if id == 0 || word.chars().count() < 4 {
                continue;
            }
            let Some(first) = word.chars().next() else {
                continue;
            };
            let list = self.slips.entry(first).or_default();
            if !list.iter().any(|known| known.word == word) {
                list.push(Known {
                    count: word.chars().count(),
                    letters: letters(&word),
                    word,
                    id,
                    condition,
                });
            }
        }
    }

    /// The one trade word that an unknown word is a slip of: one key wrong, missing, doubled or
    /// swapped in words of four letters and more, two in words of eight and more; the first letter
    /// stands. Real words are never slips.
    pub fn slip(&self, word: &str) -> Option<u32> {
        let count = word.chars().count();
        if !(4..=20).contains(&count)
            || !word.chars().all(char::is_alphabetic)
            || self.not_slips.contains(word)
        {
            return None;
        }
        let bound = if count >= 8 { 2 } else { 1 };
        let mut best: Option<(usize, u32, bool)> = None;
        let mut even = false;
        let own = letters(word);
        for known in self.slips.get(&word.chars().next()?)? {
            let (other, id, condition) = (known.count, &known.id, &known.condition);
            // four letters with one replaced is another word more often than a slip; each slip adds or
            // takes at most two different letters
            if other.abs_diff(count) > bound
                || count == 4 && other <= 4
                || (own ^ known.letters).count_ones() as usize > 2 * bound
            {
                continue;
            }
            let distance = strsim::osa_distance(word, &known.word);
            if distance == 0 || distance > bound {
                continue;
            }
            match best {
                Some((d, _, _)) if d < distance => {}
                // of two that are as near, the word for a condition was meant
                Some((d, _, true)) if d == distance && !condition => {}
                Some((d, old, true)) if d == distance => even |= old != *id,
                Some((d, old, false)) if d == distance && !condition => even |= old != *id,
                _ => {
                    best = Some((distance, *id, *condition));
                    even = false;
                }
            }
        }
        best.filter(|_| !even).map(|(_, id, _)| id)
    }

    /// The one trade word that a typed word without vowels stands for: "brk", "wndscrn", "lft".
    fn abbreviated(&self, word: &str) -> Option<u32> {
        let skeleton = |word: &str| {
            let mut out = String::new();
            for (i, c) in word.chars().enumerate() {
                if (i == 0 || !matches!(c, 'a' | 'e' | 'i' | 'o' | 'u')) && !out.ends_with(c) {
                    out.push(c);
                }
            }
            out
        };
        let plain = word.chars().all(|c| c.is_ascii_lowercase());
        let bare = word
            .chars()
            .skip(1)
            .all(|c| !matches!(c, 'a' | 'e' | 'i' | 'o' | 'u' | 'y'));
        if !plain || !bare || !(3..=12).contains(&word.len()) {
            return None;
        }
        let short = skeleton(word);
        let known = self.slips.get(&word.chars().next()?)?;
        let mut all = known.iter().filter(|k| skeleton(&k.word) == short);
        let one = all.next()?;
        all.all(|other| other.id == one.id).then_some(one.id)
    }

    /// Folded words of a text.
    pub fn flat(&self, words: &Words, tokens: &[Token]) -> Vec<Flat> {
        let mut flat: Vec<Flat> = folded(words, tokens)
            .into_iter()
            .map(|(word, token)| {
                let known = self.id(&word);
                let word = if known == 0 {
                    self.slip(&word)
                        .or_else(|| self.abbreviated(&word))
                        .unwrap_or(0)
                } else {
                    known
                };
                Flat { word, token }
            })
            .collect();
        // "can't quite see" is "can't see"
        if flat.iter().any(|f| self.skipped.contains(&f.word)) {
            let mut before = 0;
            let mut rest = flat.len();
            flat.retain(|f| {
                rest -= 1;
                let skip = rest > 0
                    && self.skipped.contains(&f.word)
                    && self.before_skipped.contains(&before);
                if !skip {
                    before = f.word;
                }
                !skip
            });
        }
        let mut at = 0;
        while let Some(here) = flat.get(at) {
            let found = self.alike.get(&here.word).and_then(|rows| {
                rows.iter().find(|(heard, _)| {
                    flat.get(at..at + heard.len())
                        .is_some_and(|part| part.iter().map(|f| f.word).eq(heard.iter().copied()))
                })
            });
            if let Some((heard, meant)) = found {
                let last = heard.len() - 1;
                let tokens: Vec<usize> = (0..meant.len())
                    .filter_map(|i| flat.get(at + i.min(last)).map(|f| f.token))
                    .collect();
                let new: Vec<Flat> = meant
                    .iter()
                    .zip(tokens)
                    .map(|(word, token)| Flat { word: *word, token })
                    .collect();
                at += new.len();
                let from = at - new.len();
                flat.splice(from..from + heard.len(), new);
            } else {
                at += 1;
            }
        }
        flat
    }

    /// Takes `heard` for `meant`.
    pub fn sounds_like(&mut self, heard: &[u32], meant: &[u32]) {
        if let Some(first) = heard.first()
            && heard != meant
        {
            let row = (heard.to_vec(), meant.to_vec());
            self.alike.entry(*first).or_default().push(row);
        }
    }

    /// Cuts tokens into chunks: numbers and the longest phrases from the left.
    pub fn chunks(&self, tokens: &[Token], flat: &[Flat]) -> Vec<Chunk> {
        let mut out = Vec::new();
        let mut f = 0;
        let mut done = 0;
        let push = |first: usize,
                    end: usize,
                    node: Option<usize>,
                    number: Option<Number>,
                    out: &mut Vec<Chunk>| {
            let (Some(a), Some(b)) = (tokens.get(first), tokens.get(end.saturating_sub(1))) else {
                return;
            };
            out.push(Chunk {
                tokens: (first, end),
                span: [a.start, b.end],
                node,
                cues: node
                    .and_then(|n| self.tree.get(n))
                    .map(|e| e.cues)
                    .unwrap_or_default(),
                number,
                mark: match a.shape {
                    Shape::Mark(c) if end == first + 1 => Some(c),
                    _ => None,
                },
            });
        };
        while let Some(here) = flat.get(f) {
            let first = here.token;
            if first < done {
                f += 1;
                continue;
            }
            let phrase = self.tree.longest(flat, f);
            let phrase_end = phrase.map(|(count, _)| {
                flat.get(f + count - 1)
                    .map_or(first + 1, |last| last.token + 1)
            });
            let number = self
                .numbers
                .parse(tokens, first)
                .filter(|n| n.form != Form::Article || self.unit_follows(tokens, flat, n.end));
            match (number, phrase, phrase_end) {
                (Some(n), Some((_, node)), Some(end)) if end > n.end => {
                    push(first, end, Some(node), None, &mut out);
                    done = end;
                }
                (Some(n), _, _) => {
                    done = n.end;
                    push(first, done, None, Some(n), &mut out);
                }
                (None, Some((_, node)), Some(end)) => {
                    push(first, end, Some(node), None, &mut out);
                    done = end;
                }
                _ => {
                    done = first + 1;
                    push(first, done, None, None, &mut out);
                }
            }
            f += 1;
        }
        out
    }

    /// Is there a unit at token `at`?
    fn unit_follows(&self, tokens: &[Token], flat: &[Flat], at: usize) -> bool {
        let start = flat.partition_point(|f| f.token < at);
        let _ = tokens;
        self.tree
            .longest(flat, start)
            .and_then(|(_, node)| self.tree.get(node))
            .is_some_and(|entry| entry.unit.is_some())
    }

    /// The signs of a remark in a text: cues and flat ranges, longest from each place, not overlapping.
    pub fn remark_hits(&self, flat: &[Flat]) -> Vec<(usize, usize, Cues)> {
        let mut out = Vec::new();
        let mut f = 0;
        while f < flat.len() {
            if let Some((count, node)) = self.remarks.longest(flat, f)
                && let (Some(first), Some(last)) = (flat.get(f), flat.get(f + count - 1))
                && let Some(entry) = self.remarks.get(node)
            {
                out.push((first.token, last.token + 1, entry.cues));
                f += count;
            } else {
                f += 1;
            }
        }
        out
    }
}

/// The phrase as it is with a contracted "is"; none if it would be one word.
pub(crate) fn without_is(phrase: &str) -> Option<String> {
    let short = phrase.replacen(" is ", " ", 1);
    (short != phrase && short.contains(' ')).then_some(short)
}

/// Folded words with their tokens: hyphens inside words and `'s` left out, compounds taken apart.
fn folded(words: &Words, tokens: &[Token]) -> Vec<(String, usize)> {
    let mut out = Vec::with_capacity(tokens.len());
    for (index, token) in tokens.iter().enumerate() {
        match token.shape {
            Shape::Word => {
                if token.text == "'s" {
                    continue;
                }
                if let Some(apart) = words.apart.get(&token.text) {
                    out.extend(apart.split(' ').map(|w| (words.fold(w), index)));
                } else {
                    let word = words.fold(&token.text);
                    if word.contains(' ') {
                        out.extend(word.split(' ').map(|w| (w.to_owned(), index)));
                    } else {
                        out.push((word, index));
                    }
                }
            }
            Shape::Mark('-')
                if !token.spaced && tokens.get(index + 1).is_some_and(|next| !next.spaced) => {}
            _ => out.push((token.text.clone(), index)),
        }
    }
    out
}
