//! Recognises the format of the bytes. File name extensions are not used, because scans are renamed and exported with wrong ones.

use super::text::{Lines, begins_with, is_blank, without_mark, words};
use super::{obj, stl_binary};
use crate::ReadError;

/// The reader for the bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Ply,
    StlAscii,
    StlBinary,
    Obj,
    Glb,
}

/// Number of bytes at the start that decide whether the content is text. A binary STL file has its count at byte 80, with a zero byte
/// for fewer than 16 million triangles.
const SAMPLE_BYTES: usize = 1024;

/// Other file types that users may supply: signature, name, and what to do.
const OTHERS: [(&[u8], &str, &str); 12] = [
    (b"PK\x03\x04", "a zip archive (or 3MF)", "unpack it, or export the scan as PLY, STL, OBJ or GLB"),
    (b"\x1f\x8b", "a gzip archive", "unpack it first"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", "unpack it first"),
    (b"Rar!", "a RAR archive", "unpack it first"),
    (b"ISO-10303-21", "a STEP solid", "export it as a triangle mesh: PLY, STL, OBJ or GLB"),
    (b"Kaydara FBX", "an FBX scene", "export it as PLY, STL, OBJ or GLB"),
    (b"\x89PNG", "a picture", "choose the mesh itself: PLY, STL, OBJ or GLB"),
    (b"\xff\xd8\xff", "a picture", "choose the mesh itself: PLY, STL, OBJ or GLB"),
    (b"%PDF", "a PDF document", "choose the mesh itself: PLY, STL, OBJ or GLB"),
    (b"LASF", "a LAS cloud of points", "build a surface from it and export that as PLY, STL, OBJ or GLB"),
    (b"\xff\xfe", "text in UTF-16", "save it as plain text (UTF-8 or ASCII)"),
    (b"\xfe\xff", "text in UTF-16", "save it as plain text (UTF-8 or ASCII)"),
];

/// Selects the reader by content.
pub(super) fn recognise(bytes: &[u8]) -> Result<Kind, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty);
    }
    if bytes.starts_with(b"ply") && bytes.get(3).is_none_or(|b| is_blank(*b)) {
        return Ok(Kind::Ply);
    }
    if bytes.starts_with(b"glTF") {
        return Ok(Kind::Glb);
    }
    if stl_binary::has_exact_size(bytes) {
        return Ok(Kind::StlBinary);
    }
    if let Some((_, kind, advice)) = OTHERS.iter().find(|(signature, ..)| bytes.starts_with(signature)) {
        return Err(ReadError::OtherKind { kind, advice });
    }
    if is_text(bytes) { recognise_text(without_mark(bytes)) } else { recognise_binary(bytes) }
}

fn is_text(bytes: &[u8]) -> bool {
    let sample = &bytes[..bytes.len().min(SAMPLE_BYTES)];
    sample.iter().all(|b| 0x20 <= *b || is_blank(*b))
}

fn recognise_text(text: &[u8]) -> Result<Kind, ReadError> {
    let first =
        Lines::new(text, 1).filter_map(|line| words(line).next()).find(|word| !word.starts_with(b"#"));
    match first {
        Some(word) if word.eq_ignore_ascii_case(b"solid") || is_named_solid(word, text) => Ok(Kind::StlAscii),
        Some(word) if obj::is_keyword(word) => Ok(Kind::Obj),
        Some([b'<', ..]) => Err(ReadError::OtherKind {
            kind: "a web page or other markup",
            advice: "the download may have gone wrong: fetch the mesh itself",
        }),
        Some([b'{', ..]) => Err(ReadError::OtherKind {
            kind: "JSON text (perhaps glTF with separate data)",
            advice: "export the scan as one binary GLB file",
        }),
        _ => Err(ReadError::Unrecognised),
    }
}

/// Whether the first word is `solid` joined to a name. A facet must then follow.
fn is_named_solid(first: &[u8], text: &[u8]) -> bool {
    let mut next = Lines::new(text, 1).filter_map(|line| words(line).next()).skip(1);
    begins_with(first, b"solid") && next.next().is_some_and(|word| word.eq_ignore_ascii_case(b"facet"))
}

/// A binary STL file has no signature, so the first triangle is checked for plausibility.
fn recognise_binary(bytes: &[u8]) -> Result<Kind, ReadError> {
    if bytes.starts_with(b"solid") || stl_binary::is_plausible(bytes) {
        return Ok(Kind::StlBinary);
    }
    Err(ReadError::Unrecognised)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_files_are_called_by_their_name() {
        let cases: [(&[u8], &str); 5] = [
            (b"<!DOCTYPE html><html>", "web page"),
            (b"\n<?xml version=\"1.0\"?>", "markup"),
            (b"PK\x03\x04rest", "zip"),
            (b"{\"asset\":{}}", "GLB"),
            (b"\xff\xfes\0o\0l\0i\0d\0", "UTF-16"),
        ];
        for (bytes, expected) in cases {
            let message = recognise(bytes).unwrap_err().to_string();
            assert!(message.contains(expected), "{message}");
        }
    }

    #[test]
    fn junk_is_not_recognised() {
        let cases: [&[u8]; 7] = [
            b"hello",
            b"solidarity\nis a word",
            b"total 12\ndrwxr-xr-x",
            b"# only a comment",
            b"plyx",
            b"\0\0\0",
            &[0; 200],
        ];
        for bytes in cases {
            assert_eq!(recognise(bytes), Err(ReadError::Unrecognised));
        }
        assert_eq!(recognise(b""), Err(ReadError::Empty));
    }

    #[test]
    fn text_formats_by_their_first_word() {
        let cases: [(&[u8], Kind); 6] = [
            (b"\xef\xbb\xbfsolid\n", Kind::StlAscii),
            (b"\n  SOLID part", Kind::StlAscii),
            (b"# made by hand\r\nmtllib a.mtl\r\n", Kind::Obj),
            (b"v 0 0 0", Kind::Obj),
            (b"ply\r\nformat", Kind::Ply),
            (b"ply", Kind::Ply),
        ];
        for (bytes, kind) in cases {
            assert_eq!(recognise(bytes), Ok(kind), "{}", String::from_utf8_lossy(bytes));
        }
    }
}
