//! Kinds of defect: how each is measured, and which published scale classifies it.
