//! Text that recurs, kept once: numbers stand for it while rows are sorted and columns built.

use arrow_array::builder::StringBuilder;
use arrow_array::{ArrayRef, StringArray};
use std::collections::HashMap;
use std::sync::Arc;

/// One column's texts.
#[derive(Debug, Default)]
pub struct Names {
    all: Vec<Arc<str>>,
    numbers: HashMap<Arc<str>, u32>,
    last: u32,
}

impl Names {
    /// The number of a text. Neighbouring rows mostly agree, so the last one is compared first.
    pub fn number(&mut self, text: &str) -> u32 {
        if self.text(self.last) == Some(text) {
            return self.last;
        }
        self.last = match self.numbers.get(text) {
            Some(number) => *number,
            None => {
                // More than four milliard different texts do not fit into memory.
                let number = u32::try_from(self.all.len()).unwrap_or(u32::MAX);
                let kept: Arc<str> = text.into();
                self.all.push(kept.clone());
                self.numbers.insert(kept, number);
                number
            }
        };
        self.last
    }

    /// The text of a number.
    pub fn text(&self, number: u32) -> Option<&str> {
        self.all.get(number as usize).map(AsRef::as_ref)
    }

    /// For each number its place in alphabetical order: comparing places compares texts.
    pub fn places(&self) -> Vec<u32> {
        let mut order: Vec<u32> = (0..self.all.len() as u32).collect();
        order.sort_unstable_by_key(|number| self.text(*number));
        let mut places = vec![0; order.len()];
        for (place, number) in order.into_iter().enumerate() {
            if let Some(slot) = places.get_mut(number as usize) {
                *slot = place as u32;
            }
        }
        places
    }

    /// All, for a column of numbers.
    pub fn values(&self) -> ArrayRef {
        Arc::new(StringArray::from_iter_values(self.all.iter()))
    }

    /// These, written out: for a column where hardly anything recurs.
    pub fn written_out(&self, numbers: impl ExactSizeIterator<Item = u32>) -> ArrayRef {
        let mut column = StringBuilder::with_capacity(numbers.len(), numbers.len() * 64);
        numbers.for_each(|number| column.append_option(self.text(number)));
        Arc::new(column.finish())
    }
}

/// Texts of which each comes once: one after another, found by number.
#[derive(Debug, Default)]
pub struct Texts {
    bytes: String,
    ends: Vec<usize>,
}

impl Texts {
    /// Keeps one more.
    pub fn add(&mut self, text: &str) -> u32 {
        self.bytes.push_str(text);
        self.ends.push(self.bytes.len());
        (self.ends.len() - 1) as u32
    }

    fn text(&self, number: u32) -> Option<&str> {
        let number = number as usize;
        let from = match number.checked_sub(1) {
            Some(before) => *self.ends.get(before)?,
            None => 0,
        };
        self.bytes.get(from..*self.ends.get(number)?)
    }

    /// These, written out.
    pub fn written_out(&self, numbers: impl ExactSizeIterator<Item = u32>) -> ArrayRef {
        let mut column = StringBuilder::with_capacity(numbers.len(), numbers.len() * 64);
        numbers.for_each(|number| column.append_option(self.text(number)));
        Arc::new(column.finish())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_come_back_as_their_texts_and_places_are_alphabetical() {
        let mut names = Names::default();
        let words = ["b", "", "a", "b", "ä", "a", "B"];
        let numbers: Vec<u32> = words.iter().map(|word| names.number(word)).collect();
        for (word, number) in words.iter().zip(&numbers) {
            assert_eq!(names.text(*number), Some(*word));
        }
        let places = names.places();
        for (one, a) in words.iter().zip(&numbers) {
            for (other, b) in words.iter().zip(&numbers) {
                assert_eq!(
                    places[*a as usize].cmp(&places[*b as usize]),
                    one.cmp(other)
                );
            }
        }
        let mut texts = Texts::default();
        let numbers: Vec<u32> = words.iter().map(|word| texts.add(word)).collect();
        for (word, number) in words.iter().zip(numbers) {
            assert_eq!(texts.text(number), Some(*word));
        }
    }
}
