//! The proof code as a QR symbol (ISO/IEC 18004), drawn by the `qrcode` crate.

use super::code::ProofCode;
use crate::error::{Error, ErrorKind, Result};
use qrcode::{EcLevel, QrCode, render::svg};

/// The code as an SVG picture, black on white with the quiet zone the standard asks for. The symbol
/// holds the code's text in fours, nothing else: no address, no network. Level Q: a quarter of the
/// symbol may be soiled.
///
/// # Errors
/// None that a proof code can cause; the encoder's own error is passed on.
pub fn svg(code: &ProofCode) -> Result<String> {
    let symbol = QrCode::with_error_correction_level(code.to_string(), EcLevel::Q)
        .map_err(|e| Error::new(ErrorKind::BadValue, format!("no QR symbol: {e}")))?;
    Ok(symbol
        .render::<svg::Color<'_>>()
        .min_dimensions(200, 200)
        .quiet_zone(true)
        .build())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether a stranger's reader gets the code back is checked in `tests/outside/merkle.py`.
    #[test]
    fn is_one_self_contained_picture() {
        let one = svg(&ProofCode::of(&[1; 32])).unwrap();
        assert!(one.contains("<svg") && one.ends_with("</svg>"));
        assert!(!one.contains("http://") || one.matches("http://").count() == 1); // the namespace
        assert_ne!(one, svg(&ProofCode::of(&[2; 32])).unwrap());
    }
}
