//! The body of a PLY file: rows of numbers, as text or binary.

use super::ply_header::{Header, Scalar};
use super::text::{Lines, Words, number, quoted};
use crate::ReadError;
use crate::notice::ReadNotice;
use crate::read_mesh::MeshFormat;

/// Why a number could not be read. The caller knows its row and element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fault {
    /// The file (or, in text, the line) ends before it.
    Ended,
    /// The word is not a number.
    NotANumber,
    /// The length of a list is negative.
    NegativeLength,
    /// The number of a vertex has a fraction or is not finite.
    NotWhole,
}

/// Rows of numbers in any encoding.
pub(super) trait Rows {
    /// Moves to the start of the next row.
    fn begin_row(&mut self) -> Result<(), Fault>;

    /// The next number of the row. Every type of the format is represented exactly by a double.
    fn number(&mut self, scalar: Scalar) -> Result<f64, Fault>;

    /// Skips the next `count` numbers of the row.
    fn skip(&mut self, scalar: Scalar, count: usize) -> Result<(), Fault>;

    /// The length of a list. It is at most what the rest of the file can contain.
    fn length(&mut self, length: Scalar, item: Scalar) -> Result<usize, Fault> {
        let count = self.number(length)?;
        if count < 0.0 || count.fract() != 0.0 {
            return Err(Fault::NegativeLength);
        }
        if (self.left() / self.min_bytes(item)) as f64 >= count {
            Ok(count as usize)
        } else {
            Err(Fault::Ended)
        }
    }

    /// Bytes left for the row: in the file, or for text in the line.
    fn left(&self) -> usize;

    /// Bytes left in the file.
    fn left_in_file(&self) -> usize;

    /// Minimum number of bytes of a number of this type.
    fn min_bytes(&self, scalar: Scalar) -> usize;

    /// The error at the current position. `inside` is what was being read.
    fn error(&self, fault: Fault, inside: String) -> ReadError;

    /// A notice about data after the last row.
    fn note_rest(&mut self, notes: &mut Vec<ReadNotice>);
}

/// A binary body.
pub(super) struct BinaryRows<'a, const BIG_ENDIAN: bool> {
    bytes: &'a [u8],
    at: usize,
    format: MeshFormat,
}

impl<'a, const BIG_ENDIAN: bool> BinaryRows<'a, BIG_ENDIAN> {
    pub(super) fn new(bytes: &'a [u8], header: &Header) -> Self {
        Self { bytes, at: header.body_at, format: header.format }
    }

    #[inline]
    fn take<const N: usize>(&mut self) -> Result<[u8; N], Fault> {
        let (bytes, _) = self.bytes[self.at..].split_first_chunk::<N>().ok_or(Fault::Ended)?;
        self.at += N;
        let mut bytes = *bytes;
        if BIG_ENDIAN {
            bytes.reverse();
        }
        Ok(bytes)
    }
}

impl<const BIG_ENDIAN: bool> Rows for BinaryRows<'_, BIG_ENDIAN> {
    fn begin_row(&mut self) -> Result<(), Fault> {
        Ok(())
    }

    #[inline]
    fn number(&mut self, scalar: Scalar) -> Result<f64, Fault> {
        Ok(match scalar {
            Scalar::I8 => i8::from_le_bytes(self.take()?).into(),
            Scalar::U8 => u8::from_le_bytes(self.take()?).into(),
            Scalar::I16 => i16::from_le_bytes(self.take()?).into(),
            Scalar::U16 => u16::from_le_bytes(self.take()?).into(),
            Scalar::I32 => i32::from_le_bytes(self.take()?).into(),
            Scalar::U32 => u32::from_le_bytes(self.take()?).into(),
            Scalar::F32 => f32::from_le_bytes(self.take()?).into(),
            Scalar::F64 => f64::from_le_bytes(self.take()?),
        })
    }

    fn skip(&mut self, scalar: Scalar, count: usize) -> Result<(), Fault> {
        let size =
            scalar.size().checked_mul(count).filter(|size| *size <= self.left()).ok_or(Fault::Ended)?;
        self.at += size;
        Ok(())
    }

    fn left(&self) -> usize {
        self.bytes.len() - self.at
    }

    fn left_in_file(&self) -> usize {
        self.left()
    }

    fn min_bytes(&self, scalar: Scalar) -> usize {
        scalar.size()
    }

    fn error(&self, fault: Fault, inside: String) -> ReadError {
        let what = match fault {
            Fault::Ended => {
                return ReadError::CutShort { format: self.format, byte: self.bytes.len(), inside };
            }
            Fault::NotANumber => format!("no number in {inside}"),
            Fault::NegativeLength => format!("a list with a negative length in {inside}"),
            Fault::NotWhole => format!("the number of a vertex that is not whole, in {inside}"),
        };
        ReadError::Byte { format: self.format, byte: self.at, what }
    }

    fn note_rest(&mut self, notes: &mut Vec<ReadNotice>) {
        if 0 < self.left() {
            notes.push(ReadNotice::BytesAfter { bytes: self.left() });
        }
    }
}

/// A text body: one row per line.
pub(super) struct TextRows<'a> {
    lines: Lines<'a>,
    row: Words<'a>,
    /// The last word read, for the message if it is not a number.
    word: &'a [u8],
    size: usize,
    is_at_end: bool,
    /// The first line with more than its row.
    overlong: Option<usize>,
}

impl<'a> TextRows<'a> {
    pub(super) fn new(bytes: &'a [u8], header: &Header) -> Self {
        Self {
            lines: Lines::new(&bytes[header.body_at..], header.body_line),
            row: Words { rest: b"" },
            word: b"",
            size: bytes.len(),
            is_at_end: false,
            overlong: None,
        }
    }

    fn note_overlong(&mut self) {
        if self.overlong.is_none() && self.row.next().is_some() {
            self.overlong = Some(self.lines.number());
        }
    }
}

impl Rows for TextRows<'_> {
    fn begin_row(&mut self) -> Result<(), Fault> {
        self.note_overlong();
        for line in self.lines.by_ref() {
            self.row = Words { rest: line.trim_ascii_start() };
            if !self.row.rest.is_empty() {
                return Ok(());
            }
        }
        self.is_at_end = true;
        Err(Fault::Ended)
    }

    fn number(&mut self, _: Scalar) -> Result<f64, Fault> {
        self.word = self.row.next().ok_or(Fault::Ended)?;
        number(self.word).ok_or(Fault::NotANumber)
    }

    fn skip(&mut self, scalar: Scalar, count: usize) -> Result<(), Fault> {
        (0..count).try_for_each(|_| self.number(scalar).map(drop))
    }

    fn left(&self) -> usize {
        self.row.rest.len()
    }

    fn left_in_file(&self) -> usize {
        self.lines.left()
    }

    fn min_bytes(&self, _: Scalar) -> usize {
        1
    }

    fn error(&self, fault: Fault, inside: String) -> ReadError {
        let (format, line) = (MeshFormat::PlyAscii, self.lines.number());
        let what = match fault {
            Fault::Ended if self.is_at_end => return ReadError::CutShort { format, byte: self.size, inside },
            Fault::Ended => format!("the line ends too early for {inside}"),
            Fault::NotANumber => format!("{} is no number, in {inside}", quoted(self.word)),
            Fault::NegativeLength => {
                format!("{} is not the length of a list, in {inside}", quoted(self.word))
            }
            Fault::NotWhole => format!("the number of a vertex that is not whole, in {inside}"),
        };
        ReadError::Line { format, line, what }
    }

    fn note_rest(&mut self, notes: &mut Vec<ReadNotice>) {
        self.note_overlong();
        if let Some(line) = self.overlong {
            notes.push(ReadNotice::LongLine { line });
        }
        let last = self.lines.number();
        if self.lines.by_ref().any(|line| !line.trim_ascii().is_empty()) {
            notes.push(ReadNotice::LinesAfter { line: last });
        }
    }
}
