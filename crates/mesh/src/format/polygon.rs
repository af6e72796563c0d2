//! Triangles from polygons, strips and fans.

use crate::notice::ReadNotice;

/// Splits the polygon into triangles that share its first corner, and appends them. Fewer than three corners give
/// nothing.
pub(super) fn push_fan(corners: &[u32], faces: &mut Vec<[u32; 3]>) {
    if let [first, rest @ ..] = corners {
        faces.extend(rest.windows(2).map(|pair| [*first, pair[0], pair[1]]));
    }
}

/// Appends the triangles of a strip. Each corner after the second forms a triangle with the two before it. Every
/// second triangle is flipped so that all face the same direction.
pub(super) fn push_strip(corners: &[u32], faces: &mut Vec<[u32; 3]>) {
    faces.extend(
        corners.windows(3).enumerate().map(
            |(i, c)| {
                if i % 2 == 0 { [c[0], c[1], c[2]] } else { [c[1], c[0], c[2]] }
            },
        ),
    );
}

/// The notice about polygons with fewer than three corners.
pub(super) fn note_too_few(count: usize, notes: &mut Vec<ReadNotice>) {
    if 0 < count {
        notes.push(ReadNotice::SmallFaces { count });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pentagon_is_three_triangles_about_its_first_corner() {
        let mut faces = Vec::new();
        push_fan(&[7, 1, 2, 3, 4], &mut faces);
        assert_eq!(faces, [[7, 1, 2], [7, 2, 3], [7, 3, 4]]);
    }

    #[test]
    fn fewer_than_three_corners_are_nothing() {
        let mut faces = Vec::new();
        for corners in [&[][..], &[1], &[1, 2]] {
            push_fan(corners, &mut faces);
            push_strip(corners, &mut faces);
        }
        assert!(faces.is_empty());
    }

    #[test]
    fn neighbours_of_a_strip_run_through_their_edge_in_opposite_ways() {
        let mut faces = Vec::new();
        push_strip(&[0, 1, 2, 3, 4], &mut faces);
        assert_eq!(faces, [[0, 1, 2], [2, 1, 3], [2, 3, 4]]);
    }
}
