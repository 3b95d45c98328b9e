//! The Merkle tree of RFC 6962 section 2.1 over the lines of a chain.
//!
//! Leaf *i* is line *i* as stored, without its newline. Leaves are hashed with a leading 0x00 and
//! nodes with a leading 0x01, so that a line can never pass for a node. Written here, not taken
//! from a crate: the `ct-merkle` and `rs_merkle` crates bind the tree to their own leaf storage or
//! to another odd-leaf rule, and the whole of it is smaller than their adapters would be. Checked
//! against the published cases of the transparency-dev `merkle` repository.

use sha2::{Digest, Sha256};

/// A SHA-256 value.
pub type Hash = [u8; 32];

/// Hash of a leaf: SHA-256(0x00 || line).
pub fn leaf_hash(line: &[u8]) -> Hash {
    let mut hash = Sha256::new();
    hash.update([0x00]);
    hash.update(line);
    hash.finalize().into()
}

/// Hash of a node: SHA-256(0x01 || left || right).
pub fn node_hash(left: &[u8], right: &[u8]) -> Hash {
    let mut hash = Sha256::new();
    hash.update([0x01]);
    hash.update(left);
    hash.update(right);
    hash.finalize().into()
}

/// Root over whole lines: MTH of RFC 6962 section 2.1.
pub fn tree_hash<L: AsRef<[u8]>>(lines: &[L]) -> crate::record::Digest {
    let mut tree = Tree::new();
    for line in lines {
        tree.push(line.as_ref());
    }
    crate::record::Digest(tree.root(tree.size()).unwrap_or_default())
}

/// A growing tree that can say its root and proofs at any earlier size.
///
/// Complete subtrees are kept (64 bytes a line in all), so a proof costs O(log² n) look-ups instead
/// of a walk over every line: a pack of one finding asks for thousands of them.
#[derive(Debug, Clone, Default)]
pub struct Tree {
    /// `levels[k][i]` is the root over leaves `i·2^k .. (i+1)·2^k`.
    levels: Vec<Vec<Hash>>,
}

impl Tree {
    /// An empty tree.
    pub fn new() -> Self {
        Self::default()
    }

    /// Number of leaves.
    pub fn size(&self) -> u64 {
        self.levels.first().map_or(0, |level| level.len() as u64)
    }

    /// Appends a line.
    pub fn push(&mut self, line: &[u8]) {
        self.push_leaf_hash(leaf_hash(line));
    }

    /// Appends a line by its leaf hash.
    pub fn push_leaf_hash(&mut self, leaf: Hash) {
        let mut carry = leaf;
        for level in 0.. {
            if self.levels.len() == level {
                self.levels.push(Vec::new());
            }
            let Some(row) = self.levels.get_mut(level) else {
                return;
            };
            row.push(carry);
            if row.len() % 2 == 1 {
                return;
            }
            match row.as_slice() {
                [.., left, right] => carry = node_hash(left, right),
                _ => return,
            }
        }
    }

    /// Root over the first `size` leaves; that of no leaves is the SHA-256 of nothing. `None` past
    /// the end of the tree.
    pub fn root(&self, size: u64) -> Option<Hash> {
        if size > self.size() {
            return None;
        }
        if size == 0 {
            return Some(Sha256::digest([]).into());
        }
        self.range(0, size)
    }

    /// Inclusion proof (audit path, leaf upwards) of leaf `index` in the tree of the first `size`
    /// leaves. `None` where there is no such leaf.
    pub fn inclusion(&self, index: u64, size: u64) -> Option<Vec<Hash>> {
        if size > self.size() || index >= size {
            return None;
        }
        let mut path = Vec::new();
        let (mut start, mut len, mut m) = (0, size, index);
        // Walk from the root to the leaf, noting the sibling at each fork; the path is its reverse.
        while len > 1 {
            let left = split(len);
            if m < left {
                path.push(self.range(start + left, len - left)?);
                len = left;
            } else {
                path.push(self.range(start, left)?);
                start += left;
                m -= left;
                len -= left;
            }
        }
        path.reverse();
        Some(path)
    }

    /// Consistency proof between the first `old` and the first `new` leaves. `None` unless
    /// `0 < old <= new <= size`.
    pub fn consistency(&self, old: u64, new: u64) -> Option<Vec<Hash>> {
        if old == 0 || old > new || new > self.size() {
            return None;
        }
        let mut path = Vec::new();
        let (mut start, mut len, mut m, mut whole) = (0, new, old, true);
        // SUBPROOF(m, D[n], b) of RFC 6962 section 2.1.2, unrolled.
        while m != len {
            let left = split(len);
            if m <= left {
                path.push(self.range(start + left, len - left)?);
                len = left;
            } else {
                path.push(self.range(start, left)?);
                start += left;
                m -= left;
                len -= left;
                whole = false;
            }
        }
        if !whole {
            path.push(self.range(start, len)?);
        }
        path.reverse();
        Some(path)
    }

    /// Root over `len` leaves from `start`; both as they occur in the recursion of the RFC, so that
    /// a power of two is always one stored node.
    fn range(&self, start: u64, len: u64) -> Option<Hash> {
        if len.is_power_of_two() {
            let level = len.trailing_zeros();
            return self
                .levels
                .get(level as usize)?
                .get(usize::try_from(start >> level).ok()?)
                .copied();
        }
        let left = split(len);
        let right = len.checked_sub(left).filter(|n| *n > 0)?;
        Some(node_hash(
            &self.range(start, left)?,
            &self.range(start + left, right)?,
        ))
    }
}

/// The largest power of two below `len` (which is at least 2).
fn split(len: u64) -> u64 {
    1 << (63 - (len - 1).leading_zeros())
}

/// True if `path` proves that a leaf with this hash is number `index` of the `size` leaves under
/// `root`. Bytes of any length may be handed in; all but 32 are refused.
pub fn verify_inclusion<P: AsRef<[u8]>>(
    index: u64,
    size: u64,
    leaf: &[u8],
    path: &[P],
    root: &[u8],
) -> bool {
    if index >= size || leaf.len() != 32 || root.len() != 32 {
        return false;
    }
    let Ok(mut hash) = Hash::try_from(leaf) else {
        return false;
    };
    // `node` is the position at the present level, `last` that of the level's last node: on the
    // right border a lonely node is carried upwards unhashed.
    let (mut node, mut last) = (index, size - 1);
    for sibling in path {
        let sibling = sibling.as_ref();
        if sibling.len() != 32 || last == 0 {
            return false;
        }
        if node & 1 == 1 || node == last {
            hash = node_hash(sibling, &hash);
            while node & 1 == 0 && node != 0 {
                node >>= 1;
                last >>= 1;
            }
        } else {
            hash = node_hash(&hash, sibling);
        }
        node >>= 1;
        last >>= 1;
    }
    last == 0 && hash == root
}

/// True if `path` proves that the `old` leaves under `old_root` are the first of the `new` leaves
/// under `new_root`. An `old` of 0 is refused: nothing can be learnt from it.
pub fn verify_consistency<P: AsRef<[u8]>>(
    old: u64,
    new: u64,
    old_root: &[u8],
    new_root: &[u8],
    path: &[P],
) -> bool {
    if old == 0 || old > new {
        return false;
    }
    if old == new {
        return path.is_empty() && old_root == new_root;
    }
    if path.iter().any(|hash| hash.as_ref().len() != 32) {
        return false;
    }
    let mut steps = path.iter().map(AsRef::as_ref);
    let (mut node, mut last) = (old - 1, new - 1);
    while node & 1 == 1 {
        node >>= 1;
        last >>= 1;
    }
    // A complete old tree is itself the first step and is not sent.
    let first = if old.is_power_of_two() {
        Some(old_root)
    } else {
        steps.next()
    };
    let Some(Ok(first)) = first.map(Hash::try_from) else {
        return false;
    };
    let (mut as_old, mut as_new) = (first, first);
    for step in steps {
        if last == 0 {
            return false;
        }
        if node & 1 == 1 || node == last {
            as_old = node_hash(step, &as_old);
            as_new = node_hash(step, &as_new);
            while node & 1 == 0 && node != 0 {
                node >>= 1;
                last >>= 1;
            }
        } else {
            as_new = node_hash(&as_new, step);
        }
        node >>= 1;
        last >>= 1;
    }
    last == 0 && as_old == old_root && as_new == new_root
}

#[cfg(test)]
mod tests;
