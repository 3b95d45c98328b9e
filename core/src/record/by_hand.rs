#![doc = include_str!("by_hand.md")]
