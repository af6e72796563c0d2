//! The header of a PLY file: the elements, their properties, and the encoding.

use super::text::{quoted, words};
use crate::ReadError;
use crate::read_mesh::MeshFormat;

/// Maximum number of elements, more than any program declares. Names are compared with one another, so their number must be bounded.
const MAX_ELEMENTS: usize = 256;

/// The content of the header. Counts are claims: memory must not be allocated from them alone.
#[derive(Debug)]
pub(super) struct Header {
    pub(super) format: MeshFormat,
    pub(super) elements: Vec<Element>,
    /// Where the body begins, as a byte offset.
    pub(super) body_at: usize,
    /// The line on which the body begins.
    pub(super) body_line: usize,
}

#[derive(Debug)]
pub(super) struct Element {
    pub(super) name: String,
    pub(super) count: u64,
    pub(super) properties: Vec<Property>,
}

#[derive(Debug)]
pub(super) struct Property {
    pub(super) name: String,
    pub(super) kind: PropertyKind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PropertyKind {
    Scalar(Scalar),
    List { length: Scalar, item: Scalar },
}

/// The number types of the format.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scalar {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Scalar {
    pub(super) fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    fn is_integer(self) -> bool {
        !matches!(self, Self::F32 | Self::F64)
    }

    fn named(word: &[u8]) -> Option<Self> {
        Some(match word {
            b"char" | b"int8" => Self::I8,
            b"uchar" | b"uint8" => Self::U8,
            b"short" | b"int16" => Self::I16,
            b"ushort" | b"uint16" => Self::U16,
            b"int" | b"int32" => Self::I32,
            b"uint" | b"uint32" => Self::U32,
            b"float" | b"float32" => Self::F32,
            b"double" | b"float64" => Self::F64,
            _ => return None,
        })
    }
}

impl Element {
    /// Minimum number of bytes of a row in the body.
    pub(super) fn min_row_bytes(&self, format: MeshFormat) -> usize {
        if format == MeshFormat::PlyAscii {
            // A digit and a blank or line end for each.
            return 2 * self.properties.len();
        }
        let least = |property: &Property| match property.kind {
            PropertyKind::Scalar(scalar) => scalar.size(),
            PropertyKind::List { length, .. } => length.size(),
        };
        self.properties.iter().map(least).sum()
    }
}

impl Header {
    /// Reads up to the line `end_header`.
    pub(super) fn read(bytes: &[u8]) -> Result<Self, ReadError> {
        let mut lines = HeaderLines::new(bytes);
        let mut header = Draft { format: None, elements: Vec::new() };
        // The first line is the signature. The file was recognised by it.
        lines.next();
        while let Some(line) = lines.next() {
            let is_end = header.line(line).map_err(|what| header.fault(lines.number, what))?;
            if is_end {
                return header.finish(lines);
            }
        }
        let inside = "the header, before a line `end_header`".into();
        Err(ReadError::CutShort { format: header.known_format(), byte: bytes.len(), inside })
    }
}

/// Lines of a header whose body may be binary. The kind of line end is taken from the first line, because a line feed
/// after a carriage return could also be the first byte of the body.
struct HeaderLines<'a> {
    bytes: &'a [u8],
    at: usize,
    number: usize,
    line_end: u8,
}

impl<'a> HeaderLines<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        let first = bytes.iter().position(|b| matches!(b, b'\n' | b'\r'));
        let is_bare_return = first.is_some_and(|at| bytes[at] == b'\r' && bytes.get(at + 1) != Some(&b'\n'));
        Self { bytes, at: 0, number: 0, line_end: if is_bare_return { b'\r' } else { b'\n' } }
    }
}

impl<'a> Iterator for HeaderLines<'a> {
    type Item = &'a [u8];

    fn next(&mut self) -> Option<&'a [u8]> {
        let rest = &self.bytes[self.at..];
        let end = rest.iter().position(|b| *b == self.line_end)?;
        self.at += end + 1;
        self.number += 1;
        Some(&rest[..end])
    }
}

struct Draft {
    format: Option<MeshFormat>,
    elements: Vec<Element>,
}

impl Draft {
    /// Processes one line; true if it was the last. The error says what is wrong with it.
    fn line(&mut self, line: &[u8]) -> Result<bool, String> {
        let words: Vec<&[u8]> = words(line).collect();
        match words[..] {
            [] | [b"comment" | b"obj_info", ..] => {}
            [b"format", encoding, ..] => self.format = Some(encoding_named(encoding)?),
            [b"element", name, count] => self.element(name, count)?,
            [b"property", b"list", length, item, name] => self.list(length, item, name)?,
            [b"property", scalar, name] => {
                self.property(name, PropertyKind::Scalar(scalar_named(scalar)?))?
            }
            [b"end_header"] => return Ok(true),
            _ => return Err(format!("{} is no line of a PLY header", quoted(line))),
        }
        Ok(false)
    }

    fn element(&mut self, name: &[u8], count: &[u8]) -> Result<(), String> {
        let count = std::str::from_utf8(count).ok().and_then(|text| text.parse().ok());
        let count =
            count.ok_or_else(|| format!("the count of element {} is no whole number", quoted(name)))?;
        let name = String::from_utf8_lossy(name).into_owned();
        if self.elements.iter().any(|element| element.name == name) {
            return Err(format!("element {} is there twice", quoted(name.as_bytes())));
        }
        if self.elements.len() == MAX_ELEMENTS {
            return Err(format!("the header declares more than {MAX_ELEMENTS} elements"));
        }
        self.elements.push(Element { name, count, properties: Vec::new() });
        Ok(())
    }

    fn list(&mut self, length: &[u8], item: &[u8], name: &[u8]) -> Result<(), String> {
        let (length, item) = (scalar_named(length)?, scalar_named(item)?);
        if !length.is_integer() {
            return Err(format!("the length of list {} must be of a whole-number type", quoted(name)));
        }
        self.property(name, PropertyKind::List { length, item })
    }

    fn property(&mut self, name: &[u8], kind: PropertyKind) -> Result<(), String> {
        let element = self.elements.last_mut();
        let element = element.ok_or_else(|| format!("property {} comes before any element", quoted(name)))?;
        element.properties.push(Property { name: String::from_utf8_lossy(name).into_owned(), kind });
        Ok(())
    }

    fn finish(self, lines: HeaderLines<'_>) -> Result<Header, ReadError> {
        let Some(format) = self.format else {
            return Err(self.fault(lines.number, "the header has no `format` line".into()));
        };
        Ok(Header { format, elements: self.elements, body_at: lines.at, body_line: lines.number + 1 })
    }

    fn fault(&self, line: usize, what: String) -> ReadError {
        ReadError::Line { format: self.known_format(), line, what }
    }

    /// The format used in messages before the format is known.
    fn known_format(&self) -> MeshFormat {
        self.format.unwrap_or(MeshFormat::PlyAscii)
    }
}

fn encoding_named(word: &[u8]) -> Result<MeshFormat, String> {
    match word {
        b"ascii" => Ok(MeshFormat::PlyAscii),
        b"binary_little_endian" => Ok(MeshFormat::PlyBinaryLittleEndian),
        b"binary_big_endian" => Ok(MeshFormat::PlyBinaryBigEndian),
        _ => Err(format!("{} is no encoding of a PLY file", quoted(word))),
    }
}

fn scalar_named(word: &[u8]) -> Result<Scalar, String> {
    Scalar::named(word).ok_or_else(|| format!("{} is no number type of a PLY file", quoted(word)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(header: &[u8]) -> String {
        Header::read(header).unwrap_err().to_string()
    }

    #[test]
    fn every_line_end_leaves_the_body_where_it_is() {
        for line_end in ["\n", "\r\n", "\r"] {
            let text =
                "ply|format binary_big_endian 1.0|element a 2|property list uint8 float64 b|end_header|\n\r";
            let text = text.replace('|', line_end);
            let header = Header::read(text.as_bytes()).unwrap();
            assert_eq!(header.body_at, text.len() - 2, "{line_end:?}");
            assert_eq!(header.body_line, 6);
            assert_eq!(header.format, MeshFormat::PlyBinaryBigEndian);
            let kind = PropertyKind::List { length: Scalar::U8, item: Scalar::F64 };
            assert_eq!(header.elements[0].properties[0].kind, kind);
        }
    }

    #[test]
    fn comments_need_not_be_utf8() {
        let text =
            b"ply\nformat ascii 1.0\ncomment caf\xe9\nobj_info \xff\xfe\n\nelement v\xe9 1\nend_header\n";
        assert_eq!(Header::read(text).unwrap().elements[0].name, "v\u{fffd}");
    }

    #[test]
    fn faults_name_their_line() {
        let cases: [(&[u8], &str); 10] = [
            (b"ply\nformat ascii 1.0\nelement a -1\n", "line 3: the count of element `a` is no whole number"),
            (b"ply\nformat utf8 1.0\n", "line 2: `utf8` is no encoding"),
            (b"ply\nelement a 1\nproperty list float int b\n", "line 3: the length of list `b` must be"),
            (b"ply\nelement a 1\nproperty half b\n", "line 3: `half` is no number type"),
            (b"ply\nproperty float b\n", "line 2: property `b` comes before any element"),
            (b"ply\nelement a 1\nelement a 2\n", "line 3: element `a` is there twice"),
            (b"ply\nelement a 99999999999999999999\n", "line 2: the count of element `a`"),
            (b"ply\n\xff\xfe\n", "line 2: `\u{fffd}\u{fffd}` is no line of a PLY header"),
            (b"ply\nend_header\n", "line 2: the header has no `format` line"),
            (b"ply\nformat ascii 1.0\n", "inside the header, before a line `end_header`"),
        ];
        for (header, expected) in cases {
            assert!(message(header).contains(expected), "{}", message(header));
        }
    }
}
