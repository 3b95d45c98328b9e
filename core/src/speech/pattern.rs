//! Patterns of sayings, written out.

use crate::error::{Error, ErrorKind, Result};

/// Most phrases that one pattern may stand for.
const MOST_OF_A_PATTERN: usize = 20_000;

/// Writes a pattern out: `(a|b c)` is one of these, with `?` behind it none of them too.
pub(super) fn written_out(pattern: &str) -> Result<Vec<String>> {
    let bad = |why: &str| {
        Error::new(ErrorKind::BadFormat, why.to_owned())
            .at(pattern)
            .hint("compare with core/words/en_sayings.toml")
    };
    let (out, rest) = alternatives_of(pattern, 0).ok_or_else(|| bad("a bracket is not closed"))?;
    if !rest.is_empty() {
        return Err(bad("a bracket is closed that was not opened"));
    }
    if out.len() > MOST_OF_A_PATTERN {
        return Err(bad("the pattern stands for too many phrases"));
    }
    Ok(out
        .into_iter()
        .map(|p| p.split_whitespace().collect::<Vec<_>>().join(" "))
        .filter(|p| !p.is_empty())
        .collect())
}

/// Everything up to `)` or the end, written out, and what follows it.
fn alternatives_of(text: &str, depth: usize) -> Option<(Vec<String>, &str)> {
    let mut all = Vec::new();
    let mut now = vec![String::new()];
    let mut rest = text;
    loop {
        let Some(at) = rest.find(['(', ')', '|']) else {
            if depth > 0 {
                return None;
            }
            now.iter_mut().for_each(|p| p.push_str(rest));
            all.append(&mut now);
            return Some((all, ""));
        };
        let (plain, tail) = rest.split_at(at);
        now.iter_mut().for_each(|p| p.push_str(plain));
        let mut chars = tail.chars();
        match chars.next()? {
            '|' => {
                all.append(&mut now);
                now.push(String::new());
                rest = chars.as_str();
            }
            ')' => {
                all.append(&mut now);
                return Some((all, if depth > 0 { chars.as_str() } else { tail }));
            }
            _ => {
                if depth > 4 {
                    return None;
                }
                let (mut inner, after) = alternatives_of(chars.as_str(), depth + 1)?;
                rest = after;
                if let Some(optional) = after.strip_prefix('?') {
                    inner.push(String::new());
                    rest = optional;
                }
                if now.len().checked_mul(inner.len())? > 2 * MOST_OF_A_PATTERN {
                    return None;
                }
                now = now
                    .iter()
                    .flat_map(|p| inner.iter().map(move |i| format!("{p}{i}")))
                    .collect();
            }
        }
    }
}
