//! Photographs of the part: what may be shown, and their section of the page. The page holds the pictures as they are.

use bladeform_table::Photograph;
use thiserror::Error;

use crate::escape::{base64, html};
use crate::scan::sha256;

/// A picture of the part with its bytes, as its record names it.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    named: Photograph,
    kind: &'static str,
    bytes: Vec<u8>,
}

/// Why a file is no picture for a page. Each message says what is wrong and what to do; the caller names the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum PictureError {
    /// Its first bytes are of none of the kinds.
    #[error("this is no JPEG, PNG or WebP picture, which are those that every browser shows; save it as one")]
    Kind,
    /// Its end is missing.
    #[error("the picture is cut short; copy it again")]
    CutShort,
    /// It has more bytes than [`Picture::MOST_BYTES`].
    #[error("the picture has {} MB, more than the {} MB that a page takes; save it smaller, 2400 pixels on its longer side show enough", .bytes.div_ceil(1_000_000), Picture::MOST_BYTES / 1_000_000)]
    TooLarge {
        /// Its bytes.
        bytes: usize,
    },
}

impl PictureError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Kind => "no-picture",
            Self::CutShort => "picture-cut-short",
            Self::TooLarge { .. } => "picture-too-large",
        }
    }
}

impl Picture {
    /// Most bytes of one picture: a dozen of them still open at once.
    pub const MOST_BYTES: usize = 5_000_000;
    /// Most pictures of one page.
    pub const MOST: usize = 24;

    /// Checks the bytes of a picture. `file`: its name in the record; `caption`: what it shows, may be empty.
    ///
    /// # Errors
    /// [`PictureError`] if the bytes are of no kind that every browser shows, end too early, or are too many.
    ///
    /// ```
    /// use bladeform_record::{Picture, PictureError};
    /// assert_eq!(Picture::read("letter.jpg", "", b"Dear Sir".to_vec()), Err(PictureError::Kind));
    /// let least = [0xff, 0xd8, 0xff, 0xe0, 0, 2, 0xff, 0xd9];
    /// assert_eq!(Picture::read("back.jpg", "Back", least.to_vec())?.named().caption, "Back");
    /// # Ok::<(), PictureError>(())
    /// ```
    pub fn read(file: &str, caption: &str, bytes: Vec<u8>) -> Result<Self, PictureError> {
        let kind = Self::kind_of(&bytes).ok_or(PictureError::Kind)?;
        if Self::MOST_BYTES < bytes.len() {
            return Err(PictureError::TooLarge { bytes: bytes.len() });
        }
        if !is_whole(&bytes) {
            return Err(PictureError::CutShort);
        }
        let named = Photograph {
            file: file.to_owned(),
            sha256: sha256(&bytes),
            caption: caption.to_owned(),
            ..Photograph::default()
        };
        Ok(Self { named, kind, bytes })
    }

    /// The media type by the first bytes: JPEG (ISO/IEC 10918-1, annex B), PNG (ISO/IEC 15948, 5.2), WebP (RFC 9649, section 2.3).
    #[must_use]
    pub const fn kind_of(bytes: &[u8]) -> Option<&'static str> {
        match bytes {
            [0xff, 0xd8, 0xff, ..] => Some("image/jpeg"),
            [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => Some("image/png"),
            [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some("image/webp"),
            _ => None,
        }
    }

    /// How the record names it.
    #[must_use]
    pub const fn named(&self) -> &Photograph {
        &self.named
    }

    /// Its bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    fn figure(&self) -> String {
        let Photograph { file, caption, .. } = &self.named;
        let file = html(file.rsplit('/').next().unwrap_or(file));
        let (alt, told) = match caption.as_str() {
            "" => (format!("Photograph {file}"), String::new()),
            caption => (html(caption), format!("{} ", html(caption))),
        };
        format!(
            "<figure class=\"photograph\"><img alt=\"{alt}\" src=\"data:{};base64,{}\"><figcaption>{told}<span class=\"unit\">{file}</span></figcaption></figure>",
            self.kind,
            base64(&self.bytes)
        )
    }
}

/// Whether a picture has its end: the marker EOI, the chunk IEND, or as many bytes as it says. What a camera appends to a JPEG does no harm.
fn is_whole(bytes: &[u8]) -> bool {
    match bytes {
        [0xff, ..] => bytes.windows(2).rev().any(|pair| pair == [0xff, 0xd9]),
        [0x89, ..] => bytes.windows(4).rev().take(64).any(|word| word == b"IEND"),
        [_, _, _, _, a, b, c, d, ..] => {
            u32::from_le_bytes([*a, *b, *c, *d]) as usize <= bytes.len().saturating_sub(8)
        }
        _ => false,
    }
}

/// The section of the page; empty without pictures.
pub(crate) fn section(pictures: &[Picture]) -> String {
    if pictures.is_empty() {
        return String::new();
    }
    let figures: String = pictures.iter().map(Picture::figure).collect();
    format!(
        "<section id=\"photographs\"><h2>Photographs</h2><div class=\"photographs\">{figures}</div></section>"
    )
}

/// Files and SHA-256 of the pictures, for the facts of the page; empty without pictures.
pub(crate) fn files(photographs: &[Photograph]) -> String {
    let one = |p: &Photograph| match p.sha256.as_str() {
        "" => html(&p.file),
        sha256 => format!("{} (SHA-256 <code>{}</code>)", html(&p.file), html(sha256)),
    };
    photographs.iter().map(one).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_without_its_end_is_refused() {
        let read = |bytes: &[u8]| Picture::read("p", "", bytes.to_vec()).map(|p| p.kind);
        let png = [b"\x89PNG\r\n\x1a\n".as_slice(), b"\0\0\0\0IEND\xae\x42\x60\x82"].concat();
        assert_eq!(read(&png), Ok("image/png"));
        assert_eq!(read(&png[..12]), Err(PictureError::CutShort));
        assert_eq!(read(b"RIFF\x04\0\0\0WEBP"), Ok("image/webp"));
        assert_eq!(read(b"RIFF\xff\xff\xff\xffWEBP"), Err(PictureError::CutShort));
        assert_eq!(read(&[0xff, 0xd8, 0xff, 0xe0]), Err(PictureError::CutShort));
        let mut large = vec![0_u8; Picture::MOST_BYTES + 1];
        large[..3].copy_from_slice(&[0xff, 0xd8, 0xff]);
        let told = read(&large).unwrap_err().to_string();
        assert!(told.contains("6 MB") && told.contains("5 MB"), "{told}");
    }
}
