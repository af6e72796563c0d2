//! Binary STL: 80 bytes of header, a count, and 50 bytes per triangle: normal, three corners, two spare bytes.

use super::weld::Weld;
use crate::notice::ReadNotice;
use crate::read_mesh::{MeshFormat, ReadMesh};
use crate::{RawMesh, ReadError};
use bladeform_numeric::parallel;
use std::io::{self, BufWriter, Write};

/// Length of the free text at the beginning, by the format.
const HEADER_BYTES: usize = 80;
/// Offset of the first triangle.
const TRIANGLES_AT: usize = HEADER_BYTES + 4;
/// Length of a triangle, by the format: 12 numbers of 4 bytes and 2 bytes of attributes.
const TRIANGLE_BYTES: usize = 50;
/// Minimum number of triangles of a part. Fewer are not worth a separate part.
const LEAST_PART: usize = 1 << 16;
/// Byte range of the corners in a triangle, after its normal.
const CORNERS: std::ops::Range<usize> = 12..48;
/// The first bytes of written files. They must not be `solid`, otherwise other programs treat the file as text.
const HEADER: &[u8] = b"binary STL written by bladeform";
/// Plausible sizes of coordinates in any unit, including rounding noise about zero. The probability that twelve random numbers are all
/// inside is less than one in a thousand.
const PLAUSIBLE_SIZE: std::ops::RangeInclusive<f32> = 1e-30..=1e12;

/// Whether the length is exactly what the count requires. No other format has such a count there by chance.
pub(super) fn has_exact_size(bytes: &[u8]) -> bool {
    count(bytes).is_some_and(|n| size_of_triangles(n) == (bytes.len() - TRIANGLES_AT) as u64)
}

/// Whether the bytes could be a binary STL file of a wrong length: its count is not zero, and all numbers of the
/// first triangle are zero or of a plausible size.
pub(super) fn is_plausible(bytes: &[u8]) -> bool {
    let Some(first) = bytes.get(TRIANGLES_AT..TRIANGLES_AT + TRIANGLE_BYTES) else { return false };
    let numbers = || floats(&first[..CORNERS.end]);
    let is_coordinate = |x: f32| x.to_bits() << 1 == 0 || PLAUSIBLE_SIZE.contains(&x.abs());
    numbers().all(is_coordinate) && numbers().any(|x| x.to_bits() << 1 != 0)
}

/// Reads the triangles and joins their corners. Parts are joined to what was read before them, so the result and its order are the same as without parts.
pub(super) fn read(bytes: &[u8]) -> Result<ReadMesh, ReadError> {
    let mut notes = Vec::new();
    let body = triangles(bytes, &mut notes)?;
    let n_triangles = body.len() / TRIANGLE_BYTES;
    let all = body.as_chunks::<TRIANGLE_BYTES>().0;
    let parts: Vec<_> = all.chunks(n_triangles.div_ceil(parallel::threads()).max(LEAST_PART)).collect();
    let joined = parallel::map(&parts, |part| {
        let first = std::ptr::eq(part.as_ptr(), all.as_ptr());
        // A closed mesh has half as many vertices as triangles. The first part absorbs all the others.
        let expected = if first { n_triangles } else { part.len() };
        let mut faces = Vec::with_capacity(expected);
        let mut weld = Weld::with_expected(expected / 2);
        weld.triangles(part.iter().map(corners_in), &mut faces).map(|()| (weld, faces))
    });
    let mut joined = joined.into_iter();
    let (mut weld, mut faces) = match joined.next() {
        Some(first) => first.ok_or_else(too_many)?,
        None => (Weld::with_expected(0), Vec::new()),
    };
    for part in joined {
        let (other, of_other) = part.ok_or_else(too_many)?;
        weld.take_over(&other, &of_other, &mut faces).ok_or_else(too_many)?;
    }
    let welded_on_reading = weld.welded();
    let mesh = RawMesh { vertices: weld.into_vertices(), faces };
    Ok(ReadMesh {
        mesh,
        format: MeshFormat::StlBinary,
        triangles_in_file: n_triangles,
        vertices_in_file: 3 * n_triangles,
        welded_on_reading,
        notes,
    })
}

/// Writes a binary STL file. Coordinates are rounded to single precision; the normals are those of the corners.
///
/// # Errors
/// Errors of `out`; `InvalidInput` if a face refers to a missing vertex, or there are more than
/// 4,294,967,295 faces.
pub fn write_stl_binary(mesh: &RawMesh, out: &mut impl Write) -> io::Result<()> {
    let count = u32::try_from(mesh.faces.len()).map_err(|_| {
        io::Error::new(io::ErrorKind::InvalidInput, "an STL file holds at most 4,294,967,295 triangles")
    })?;
    let mut out = BufWriter::new(out);
    let mut header = [b' '; HEADER_BYTES];
    header[..HEADER.len()].copy_from_slice(HEADER);
    out.write_all(&header)?;
    out.write_all(&count.to_le_bytes())?;
    for face in &mesh.faces {
        let corners = corners_of(mesh, *face)?;
        for number in [normal(corners), corners[0], corners[1], corners[2]].as_flattened() {
            out.write_all(&(*number as f32).to_le_bytes())?;
        }
        out.write_all(&[0; 2])?;
    }
    out.flush()
}

/// The corners of a face of the mesh.
pub(super) fn corners_of(mesh: &RawMesh, face: [u32; 3]) -> io::Result<[[f64; 3]; 3]> {
    let mut corners = [[0.0; 3]; 3];
    for (corner, index) in corners.iter_mut().zip(face) {
        *corner = *mesh.vertices.get(index as usize).ok_or_else(|| {
            let message = format!("a face names vertex {index}, but there are {}", mesh.vertices.len());
            io::Error::new(io::ErrorKind::InvalidInput, message)
        })?;
    }
    Ok(corners)
}

/// The unit normal, or zero for a triangle without area, as the format requires.
pub(super) fn normal([a, b, c]: [[f64; 3]; 3]) -> [f64; 3] {
    let [a, b, c] = [a, b, c].map(nalgebra::Vector3::from);
    (b - a)
        .cross(&(c - a))
        .try_normalize(0.0)
        .filter(|n| n.iter().all(|x| x.is_finite()))
        .unwrap_or_default()
        .into()
}

fn count(bytes: &[u8]) -> Option<u32> {
    let field = bytes.get(HEADER_BYTES..TRIANGLES_AT)?;
    Some(u32::from_le_bytes(field.try_into().ok()?))
}

fn size_of_triangles(count: u32) -> u64 {
    u64::from(count) * TRIANGLE_BYTES as u64
}

/// The bytes of the counted triangles, or the error that some are missing.
fn triangles<'a>(bytes: &'a [u8], notes: &mut Vec<ReadNotice>) -> Result<&'a [u8], ReadError> {
    let format = MeshFormat::StlBinary;
    let cut_short = |inside: String| ReadError::CutShort { format, byte: bytes.len(), inside };
    let counted = count(bytes).ok_or_else(|| cut_short("the header".into()))?;
    let body = &bytes[TRIANGLES_AT..];
    let held = body.len() / TRIANGLE_BYTES;
    if counted == 0 && 0 < held && body.len().is_multiple_of(TRIANGLE_BYTES) {
        notes.push(ReadNotice::CountOfZero { held });
        return Ok(body);
    }
    let size = size_of_triangles(counted);
    let Some((body, after)) = usize::try_from(size).ok().and_then(|size| body.split_at_checked(size)) else {
        return Err(cut_short(format!("triangle {} of the {counted} that the header counts", held + 1)));
    };
    if !after.is_empty() {
        let (extra, room) = (after.len(), after.len() / TRIANGLE_BYTES);
        // Whole triangles, and more of them than counted: the count is wrong, and most of the part would be lost.
        if (counted as usize) < room && extra.is_multiple_of(TRIANGLE_BYTES) {
            let what = format!("the header counts {counted} of the {held} triangles that the file holds");
            return Err(ReadError::Byte { format, byte: HEADER_BYTES, what });
        }
        notes.push(ReadNotice::AfterTriangles { counted, bytes: extra, room });
    }
    Ok(body)
}

/// The three corners in the bytes of a triangle.
fn corners_in(triangle: &[u8; TRIANGLE_BYTES]) -> [[f64; 3]; 3] {
    let mut corners = [[0.0; 3]; 3];
    for (to, from) in corners.as_flattened_mut().iter_mut().zip(floats(&triangle[CORNERS])) {
        *to = from.into();
    }
    corners
}

fn floats(bytes: &[u8]) -> impl Iterator<Item = f32> + '_ {
    bytes.as_chunks::<4>().0.iter().map(|bytes| f32::from_le_bytes(*bytes))
}

fn too_many() -> ReadError {
    ReadError::TooLarge {
        format: MeshFormat::StlBinary,
        what: "it has more than 4,294,967,294 vertices".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(header: &[u8], count: u32, triangles: &[[f32; 9]]) -> Vec<u8> {
        let mut bytes = header.to_vec();
        bytes.resize(HEADER_BYTES, 0);
        bytes.extend(count.to_le_bytes());
        for corners in triangles {
            bytes.extend([0; 12]);
            bytes.extend(corners.iter().flat_map(|x| x.to_le_bytes()));
            bytes.extend([0; 2]);
        }
        bytes
    }

    const A: [f32; 9] = [0., 0., 0., 1., 0., 0., 0., 1., 0.];
    const B: [f32; 9] = [1., 0., 0., 1., 1., 0., -0., 1., 0.];

    #[test]
    fn nothing_depends_on_the_number_of_threads() {
        // Corners from a small grid, so that all parts have common vertices; some are not finite.
        let mut seed = 1_u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            seed >> 33
        };
        let triangles = 3 * LEAST_PART + 17;
        let mut bytes = [0; TRIANGLES_AT].to_vec();
        bytes[HEADER_BYTES..].copy_from_slice(&(triangles as u32).to_le_bytes());
        for _ in 0..triangles {
            bytes.extend([0; 12]);
            for _ in 0..9 {
                let number = if next() % 1000 == 0 { f32::NAN } else { (next() % 60) as f32 - 30.0 };
                bytes.extend(number.to_le_bytes());
            }
            bytes.extend([0; 2]);
        }
        let bits = |read: &ReadMesh| -> Vec<[u64; 3]> {
            read.mesh.vertices.iter().map(|v| v.map(f64::to_bits)).collect()
        };
        let one = parallel::with_threads(1, || read(&bytes)).unwrap();
        for threads in [2, 3, 7] {
            let many = parallel::with_threads(threads, || read(&bytes)).unwrap();
            assert!(bits(&many) == bits(&one) && many.mesh.faces == one.mesh.faces, "{threads}");
            assert_eq!(many.welded_on_reading, one.welded_on_reading);
        }
    }

    #[test]
    fn corners_are_joined_and_counted() {
        let read = crate::read(&file(b"", 2, &[A, B])).unwrap();
        assert_eq!(read.mesh.faces, [[0, 1, 2], [1, 3, 2]]);
        assert_eq!((read.vertices_in_file, read.welded_on_reading, read.notes.len()), (6, 2, 0));
    }

    #[test]
    fn a_header_that_begins_with_solid_is_still_binary() {
        for extra in [0, 7] {
            let mut bytes = file(b"solid part\n facet normal", 2, &[A, B]);
            bytes.resize(bytes.len() + extra, 0);
            assert_eq!(crate::read(&bytes).unwrap().format, MeshFormat::StlBinary, "{extra} bytes more");
        }
    }

    #[test]
    fn bytes_after_the_triangles_are_noted() {
        let mut bytes = file(b"", 1, &[A, B]);
        bytes.push(1);
        let read = crate::read(&bytes).unwrap();
        assert_eq!(read.mesh.faces.len(), 1);
        assert_eq!(read.notes, [ReadNotice::AfterTriangles { counted: 1, bytes: 51, room: 1 }]);
    }

    #[test]
    fn a_count_of_the_lesser_part_of_the_triangles_is_refused() {
        let told = crate::read(&file(b"", 1, &[A, B, A])).unwrap_err().to_string();
        assert_eq!(
            told,
            "binary STL, byte 80: the header counts 1 of the 3 triangles that the file holds; export the scan again"
        );
    }

    #[test]
    fn a_missing_count_is_made_up_from_the_size() {
        let read = crate::read(&file(b"", 0, &[A, B])).unwrap();
        assert_eq!((read.mesh.faces.len(), read.notes.len()), (2, 1));
    }

    #[test]
    fn a_file_cut_short_names_byte_and_triangle() {
        let bytes = file(b"", 2, &[A, B]);
        let message = crate::read(&bytes[..150]).unwrap_err().to_string();
        assert_eq!(
            message,
            "binary STL: the file ends at byte 150, inside triangle 2 of the 2 that the header counts; \
             it was cut short: copy or export it again"
        );
    }

    #[test]
    fn a_count_of_four_billion_is_refused_without_being_believed() {
        let message = crate::read(&file(b"", u32::MAX, &[A])).unwrap_err().to_string();
        assert!(message.contains("triangle 2 of the 4294967295"), "{message}");
    }

    #[test]
    fn no_triangles_is_an_error() {
        assert_eq!(
            crate::read(&file(b"", 0, &[])),
            Err(ReadError::NoVertices { format: MeshFormat::StlBinary })
        );
    }

    #[test]
    fn vertices_that_are_no_numbers_stay_apart() {
        let mut broken = A;
        broken[0] = f32::NAN;
        let read = crate::read(&file(b"", 2, &[broken, broken])).unwrap();
        assert_eq!((read.mesh.vertices.len(), read.welded_on_reading), (4, 2));
    }

    #[test]
    fn a_wrong_index_is_not_written() {
        let mesh = RawMesh { vertices: vec![[0.0; 3]], faces: vec![[0, 0, 1]] };
        let error = write_stl_binary(&mesh, &mut Vec::new()).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::InvalidInput);
    }

    #[test]
    fn normals_are_of_length_one_or_zero() {
        let unit = normal([[0., 0., 0.], [2., 0., 0.], [0., 3., 0.]]);
        assert_eq!(unit.map(f64::to_bits), [0.0, 0.0, 1.0].map(f64::to_bits));
        for flat in [[[1.0; 3]; 3], [[f64::NAN; 3]; 3], [[f64::MAX; 3], [-f64::MAX; 3], [0.0; 3]]] {
            assert_eq!(normal(flat).map(f64::to_bits), [0; 3]);
        }
    }
}
