//! A code is what a scanner reads from the tag or the stub: a QR code for an address, a bar code (Code 128) for the tag.

use std::fmt::Write as _;

use barcoders::sym::code128::Code128;
use qrcode::bits::Bits;
use qrcode::types::{QrError, QrResult, Version};
use qrcode::{Color, EcLevel, QrCode};
use thiserror::Error;

/// Light modules that must surround the code: 4 for QR (ISO/IEC 18004), 10 for Code 128 (ISO/IEC 15417); from memory.
const QR_QUIET: usize = 4;
const BAR_QUIET: usize = 10;
/// Bars this high beside the width of a tag's code can be read by hand scanner without aiming (common practice, no source).
const BAR_HEIGHT: usize = 40;
/// Longer than any tag, and short enough to fit across a label.
const MOST_BAR_DIGITS: usize = 20;

/// Why there is no code for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum CodeProblem {
    #[error("There is nothing to put into the code.")]
    Nothing,
    #[error("That is too long for one code.")]
    TooLong,
    #[error("The bar code holds only the digits 0 to 9.")]
    NotDigits,
    #[error("The code could not be drawn.")]
    NotDrawn,
}

/// A QR code as an inline SVG picture, one unit a module: level M, which survives about 15 % of smudge and wear.
///
/// # Errors
/// [`CodeProblem`] if there is no text or too much of it.
pub fn qr_svg(text: &str) -> Result<String, CodeProblem> {
    if text.is_empty() {
        return Err(CodeProblem::Nothing);
    }
    let code = if text.is_ascii() {
        QrCode::with_error_correction_level(text, EcLevel::M)
    } else {
        in_bytes(text)
    };
    let code = code.map_err(|problem| match problem {
        QrError::DataTooLong => CodeProblem::TooLong,
        _ => CodeProblem::NotDrawn,
    })?;
    let side = code.width();
    let mut path = String::new();
    for (y, row) in code.to_colors().chunks(side).enumerate() {
        let dark: Vec<bool> = row.iter().map(|&module| module == Color::Dark).collect();
        bars(&mut path, &dark, QR_QUIET, y + QR_QUIET, 1);
    }
    let with_quiet = side + 2 * QR_QUIET;
    Ok(picture(
        with_quiet,
        with_quiet,
        &format!("QR code: {text}"),
        &path,
    ))
}

/// Text beyond ASCII goes in byte by byte: left to choose, the encoder takes pairs of UTF-8 bytes for Shift JIS.
fn in_bytes(text: &str) -> QrResult<QrCode> {
    for version in 1..=40 {
        let mut bits = Bits::new(Version::Normal(version));
        let filled = bits
            .push_byte_data(text.as_bytes())
            .and_then(|()| bits.push_terminator(EcLevel::M));
        match filled {
            Err(QrError::DataTooLong) => {}
            Err(other) => return Err(other),
            Ok(()) => return QrCode::with_bits(bits, EcLevel::M),
        }
    }
    Err(QrError::DataTooLong)
}

/// A tag's digits as a Code 128 bar code, an inline SVG picture one unit a module wide.
///
/// # Errors
/// [`CodeProblem`] if there are no digits, too many, or something else than digits.
pub fn code128_svg(digits: &str) -> Result<String, CodeProblem> {
    if digits.is_empty() {
        return Err(CodeProblem::Nothing);
    }
    if !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(CodeProblem::NotDigits);
    }
    if digits.len() > MOST_BAR_DIGITS {
        return Err(CodeProblem::TooLong);
    }
    let code = Code128::new(with_code_sets(digits)).map_err(|_| CodeProblem::NotDrawn)?;
    let dark: Vec<bool> = code.encode().into_iter().map(|module| module == 1).collect();
    let mut path = String::new();
    bars(&mut path, &dark, BAR_QUIET, 0, BAR_HEIGHT);
    Ok(picture(
        dark.len() + 2 * BAR_QUIET,
        BAR_HEIGHT,
        &format!("Bar code: {digits}"),
        &path,
    )
    // Only widths are read, so the bars may be drawn as wide and as high as the paper has room for.
    .replacen("<svg ", "<svg preserveAspectRatio=\"none\" ", 1))
}

/// Code set C holds two digits a symbol; an odd last digit goes into set B. The encoder wants the sets as `Ć` and `Ɓ`.
fn with_code_sets(digits: &str) -> String {
    let (pairs, odd) = digits.split_at(digits.len() / 2 * 2);
    let mut sets = String::new();
    if !pairs.is_empty() {
        sets.push('\u{106}');
        sets.push_str(pairs);
    }
    if !odd.is_empty() {
        sets.push('\u{181}');
        sets.push_str(odd);
    }
    sets
}

/// Adds one rectangle for each run of dark modules of a row.
fn bars(path: &mut String, dark: &[bool], left: usize, top: usize, height: usize) {
    let mut at = 0;
    for run in dark.chunk_by(|one, next| one == next) {
        let (x, width) = (at + left, run.len());
        at += width;
        if run[0] {
            write!(path, "M{x} {top}h{width}v{height}h-{width}z").expect("writing to a String cannot fail");
        }
    }
}

fn picture(width: usize, height: usize, label: &str, path: &str) -> String {
    let label = escaped(label);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" role=\"img\" aria-label=\"{label}\" \
         shape-rendering=\"crispEdges\"><rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\
         <path fill=\"#000\" d=\"{path}\"/></svg>"
    )
}

/// The picture goes into pages as it is, so the label is made safe here; control signs have no place in one.
fn escaped(label: &str) -> String {
    let mut safe = String::with_capacity(label.len());
    for sign in label.chars() {
        match sign {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            _ if sign.is_control() => {}
            _ => safe.push(sign),
        }
    }
    safe
}
