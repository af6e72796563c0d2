//! The container of a GLB file and checked access to the numbers in its binary chunk.

use crate::ReadError;
use crate::notice::ReadNotice;
use crate::read_mesh::MeshFormat;
use gltf::accessor::{Accessor, DataType, Dimensions};

pub(super) const FORMAT: MeshFormat = MeshFormat::Glb;
/// Signature, version and length.
const HEADER_BYTES: usize = 12;
/// The only version of the format that is read (glTF 2.0).
const VERSION: u32 = 2;
/// What to do about a file that cannot be read.
const EMBED: &str = "export one GLB file with everything embedded and uncompressed";

/// The two chunks of the container.
pub(super) struct Chunks<'a> {
    pub(super) json: &'a [u8],
    /// Empty if the file has none.
    pub(super) binary: &'a [u8],
}

impl<'a> Chunks<'a> {
    /// Splits the file into its chunks. Unknown ones are skipped, as the standard requires.
    pub(super) fn split(bytes: &'a [u8], notes: &mut Vec<ReadNotice>) -> Result<Self, ReadError> {
        let cut_short =
            |inside: &str| ReadError::CutShort { format: FORMAT, byte: bytes.len(), inside: inside.into() };
        let (Some(version), Some(length)) = (word(bytes, 4), word(bytes, 8)) else {
            return Err(cut_short("the header"));
        };
        if version != VERSION {
            let what = format!("version {version} of glTF");
            return Err(ReadError::NotSupported {
                format: FORMAT,
                what,
                instead: "export it as glTF 2.0 (GLB)",
            });
        }
        let content = bytes.get(..length as usize).ok_or_else(|| cut_short("what the header announces"))?;
        if content.len() < bytes.len() {
            notes.push(ReadNotice::BytesAfter { bytes: bytes.len() - content.len() });
        }
        let mut chunks = content.get(HEADER_BYTES..).unwrap_or_default();
        let json = next_chunk(&mut chunks).filter(|(name, _)| *name == b"JSON").map(|(_, data)| data);
        let json = json.ok_or_else(|| fault(HEADER_BYTES, "the first chunk is no complete JSON chunk"))?;
        Ok(Self { json, binary: binary_chunk(content, chunks)? })
    }
}

/// The first binary chunk after the description; empty if there is none.
fn binary_chunk<'a>(content: &[u8], mut chunks: &'a [u8]) -> Result<&'a [u8], ReadError> {
    while !chunks.is_empty() {
        let at = content.len() - chunks.len();
        let (name, data) = next_chunk(&mut chunks).ok_or_else(|| fault(at, "a chunk is not complete"))?;
        if name == b"BIN\0" {
            return Ok(data);
        }
    }
    Ok(&[])
}

/// An error at a byte of the file.
pub(super) fn fault(byte: usize, what: &str) -> ReadError {
    ReadError::Byte { format: FORMAT, byte, what: what.into() }
}

/// Equally spaced elements of the binary chunk, all within its bounds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column<'a> {
    data: &'a [u8],
    stride: usize,
    pub(super) count: usize,
    kind: DataType,
}

impl<'a> Column<'a> {
    /// The positions of vertices: three single-precision numbers each.
    pub(super) fn positions(accessor: &Accessor<'_>, binary: &'a [u8]) -> Result<Self, ReadError> {
        if (accessor.data_type(), accessor.dimensions()) != (DataType::F32, Dimensions::Vec3) {
            return Err(not_supported("quantised coordinates", accessor));
        }
        Self::new(accessor, binary)
    }

    /// The vertex numbers of a primitive.
    pub(super) fn indices(accessor: &Accessor<'_>, binary: &'a [u8]) -> Result<Self, ReadError> {
        let is_index = matches!(accessor.data_type(), DataType::U8 | DataType::U16 | DataType::U32);
        if !is_index || accessor.dimensions() != Dimensions::Scalar {
            return Err(not_supported("indices of an unusual type", accessor));
        }
        Self::new(accessor, binary)
    }

    fn new(accessor: &Accessor<'_>, binary: &'a [u8]) -> Result<Self, ReadError> {
        if accessor.sparse().is_some() {
            return Err(not_supported("sparse data", accessor));
        }
        let view = accessor.view().ok_or_else(|| not_supported("numbers without stored data", accessor))?;
        // Only the first buffer is the binary chunk, and only if it has no URI.
        if view.buffer().index() != 0 || !matches!(view.buffer().source(), gltf::buffer::Source::Bin) {
            return Err(not_supported("data that lies outside the file", accessor));
        }
        let size = accessor.size();
        let stride = view.stride().unwrap_or(size);
        let data = slice(binary, view.offset(), view.length()).and_then(|data| data.get(accessor.offset()..));
        let count = accessor.count();
        let needed =
            count.checked_sub(1).and_then(|n| n.checked_mul(stride)).and_then(|n| n.checked_add(size));
        match (data, needed) {
            (Some(data), Some(needed)) if needed <= data.len() && size <= stride => {
                Ok(Self { data: &data[..needed], stride, count, kind: accessor.data_type() })
            }
            _ => Err(ReadError::NotSupported {
                format: FORMAT,
                what: format!("accessor {}, which reaches outside the data in the file,", accessor.index()),
                instead: "the file was cut short or wrongly written: export it again",
            }),
        }
    }

    /// The three numbers of an element.
    pub(super) fn vectors(self) -> impl Iterator<Item = [f64; 3]> + 'a {
        self.elements().map(|element| {
            let mut vector = [0.0; 3];
            for (number, bytes) in vector.iter_mut().zip(element.as_chunks::<4>().0) {
                *number = f32::from_le_bytes(*bytes).into();
            }
            vector
        })
    }

    /// The whole numbers of the elements.
    pub(super) fn whole_numbers(self) -> impl Iterator<Item = u32> + 'a {
        let width = self.kind.size();
        self.elements().map(move |element| {
            let mut bytes = [0; 4];
            for (to, from) in bytes.iter_mut().zip(element.iter().take(width)) {
                *to = *from;
            }
            u32::from_le_bytes(bytes)
        })
    }

    /// One slice per element. The last may be shorter than the stride, but not than the element.
    fn elements(self) -> impl Iterator<Item = &'a [u8]> {
        self.data.chunks(self.stride)
    }
}

fn not_supported(what: &str, accessor: &Accessor<'_>) -> ReadError {
    let what = format!("{what} (accessor {})", accessor.index());
    ReadError::NotSupported { format: FORMAT, what, instead: EMBED }
}

fn slice(bytes: &[u8], at: usize, length: usize) -> Option<&[u8]> {
    bytes.get(at..at.checked_add(length)?)
}

fn word(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|bytes| u32::from_le_bytes(*bytes))
}

/// Reads name and data of the next chunk.
fn next_chunk<'a>(chunks: &mut &'a [u8]) -> Option<(&'a [u8], &'a [u8])> {
    let length = word(chunks, 0)? as usize;
    let name = chunks.get(4..8)?;
    let data = slice(chunks, 8, length)?;
    *chunks = &chunks[8 + length..];
    Some((name, data))
}
