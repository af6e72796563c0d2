//! Requirements for every reader, tested for every format: the same mesh from the same solid, a result (never a
//! panic) for any file content, and a mesh with all indices in range.

use bladeform_mesh::{
    MeshFormat, RawMesh, ReadError, ReadMesh, ReadNotice, read, write_obj, write_ply_ascii, write_ply_binary,
    write_stl_ascii, write_stl_binary,
};
use proptest::prelude::*;

macro_rules! fixture {
    ($name:literal) => {
        include_bytes!(concat!("../../../fixtures/", $name)).as_slice()
    };
}

const ALL: [(&str, &[u8]); 12] = [
    ("tetrahedron-ascii.ply", fixture!("tetrahedron-ascii.ply")),
    ("tetrahedron-little-endian.ply", fixture!("tetrahedron-little-endian.ply")),
    ("tetrahedron-big-endian.ply", fixture!("tetrahedron-big-endian.ply")),
    ("tetrahedron-ascii.stl", fixture!("tetrahedron-ascii.stl")),
    ("tetrahedron-binary.stl", fixture!("tetrahedron-binary.stl")),
    ("tetrahedron-solid-header.stl", fixture!("tetrahedron-solid-header.stl")),
    ("tetrahedron.obj", fixture!("tetrahedron.obj")),
    ("tetrahedron.glb", fixture!("tetrahedron.glb")),
    ("pyramid-liberties-ascii.ply", fixture!("pyramid-liberties-ascii.ply")),
    ("pyramid-liberties-big-endian.ply", fixture!("pyramid-liberties-big-endian.ply")),
    ("pyramid-liberties.obj", fixture!("pyramid-liberties.obj")),
    ("scene.glb", fixture!("scene.glb")),
];

/// Vertices and faces that a small file may expand to, in addition to those proportional to its size.
const FREE_ITEMS: usize = 100_000;

/// Reads a file and checks the properties of every returned mesh.
fn read_checked(bytes: &[u8]) -> Result<ReadMesh, ReadError> {
    let answer = read(bytes);
    match &answer {
        Ok(read) => {
            let n = read.mesh.vertices.len();
            assert!(!read.mesh.faces.is_empty(), "a mesh without faces");
            assert!(
                read.mesh.faces.as_flattened().iter().all(|index| (*index as usize) < n),
                "an index out of range"
            );
            assert_eq!(read.triangles_in_file, read.mesh.faces.len());
            assert_eq!(read.vertices_in_file - read.welded_on_reading, n);
            assert!(n.max(read.mesh.faces.len()) <= FREE_ITEMS + bytes.len(), "out of proportion");
            assert!(
                read.notes.iter().all(|note| 20 < note.to_string().len() && !note.code().is_empty()),
                "{:?}",
                read.notes
            );
        }
        Err(error) => {
            let sentence = error.to_string();
            assert!((20..600).contains(&sentence.len()), "{sentence}");
            assert!(!sentence.chars().any(char::is_control), "{sentence:?}");
        }
    }
    answer
}

/// Volume by the divergence theorem: a sixth of the sum of the triple products of the corners.
fn volume(mesh: &RawMesh) -> f64 {
    let triple = |face: &[u32; 3]| {
        let [a, b, c] = face.map(|i| mesh.vertices[i as usize]);
        a[0] * (b[1] * c[2] - b[2] * c[1])
            + a[1] * (b[2] * c[0] - b[0] * c[2])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    };
    mesh.faces.iter().map(triple).sum::<f64>() / 6.0
}

fn bits(vertices: &[[f64; 3]]) -> Vec<[u64; 3]> {
    vertices.iter().map(|vertex| vertex.map(f64::to_bits)).collect()
}

/// The requirements for a reader, one module per format.
macro_rules! reader_contract {
    ($module:ident, $tetrahedron:literal, $format:expr, $vertices_in_file:literal) => {
        mod $module {
            use super::*;

            const FILE: &[u8] = fixture!($tetrahedron);

            #[test]
            fn reads_the_tetrahedron() {
                let read = read_checked(FILE).unwrap();
                assert_eq!((read.mesh.vertices.len(), read.mesh.faces.len()), (4, 4));
                assert_eq!((read.format, read.vertices_in_file), ($format, $vertices_in_file));
                assert!((volume(&read.mesh) - 1.0 / 6.0).abs() < 1e-15);
                assert!(read.notes.is_empty(), "{:?}", read.notes);
            }

            #[test]
            fn half_the_file_is_refused() {
                assert!(read_checked(&FILE[..FILE.len() / 2]).is_err());
            }

            #[test]
            fn bytes_after_the_end_do_not_change_the_mesh() {
                let mut longer = FILE.to_vec();
                longer.extend(b"\n\n");
                assert_eq!(read_checked(&longer).unwrap().mesh, read(FILE).unwrap().mesh);
            }
        }
    };
}

reader_contract!(ply_ascii, "tetrahedron-ascii.ply", MeshFormat::PlyAscii, 4);
reader_contract!(ply_little_endian, "tetrahedron-little-endian.ply", MeshFormat::PlyBinaryLittleEndian, 4);
reader_contract!(ply_big_endian, "tetrahedron-big-endian.ply", MeshFormat::PlyBinaryBigEndian, 4);
reader_contract!(stl_ascii, "tetrahedron-ascii.stl", MeshFormat::StlAscii, 12);
reader_contract!(obj, "tetrahedron.obj", MeshFormat::Obj, 4);

/// Two formats report trailing bytes, so they meet all requirements except the silent one.
#[test]
fn formats_with_a_length_note_bytes_after_it() {
    for (file, n) in [
        (fixture!("tetrahedron-binary.stl"), 12),
        (fixture!("tetrahedron-solid-header.stl"), 12),
        (fixture!("tetrahedron.glb"), 4),
    ] {
        let exact = read_checked(file).unwrap();
        assert_eq!((exact.mesh.vertices.len(), exact.mesh.faces.len(), exact.vertices_in_file), (4, 4, n));
        assert!((volume(&exact.mesh) - 1.0 / 6.0).abs() < 1e-15 && exact.notes.is_empty());
        let longer = read_checked(&[file, b"\n\n"].concat()).unwrap();
        assert_eq!((longer.mesh, longer.notes.len()), (exact.mesh, 1));
        assert!(read_checked(&file[..file.len() / 2]).is_err());
    }
}

#[test]
fn the_pyramid_is_the_same_whatever_the_file_does() {
    for name in ["pyramid-liberties-ascii.ply", "pyramid-liberties-big-endian.ply", "pyramid-liberties.obj"] {
        let (_, file) = ALL.into_iter().find(|(n, _)| *n == name).unwrap();
        let read = read_checked(file).unwrap();
        assert_eq!((read.mesh.vertices.len(), read.mesh.faces.len()), (5, 6), "{name}");
        assert!((volume(&read.mesh) - 4.0).abs() < 1e-15, "{name}: {}", volume(&read.mesh));
        assert!(!read.notes.is_empty(), "{name} holds what is ignored");
    }
}

#[test]
fn a_scene_is_placed_by_its_nodes() {
    let read = read_checked(fixture!("scene.glb")).unwrap();
    assert_eq!((read.mesh.vertices.len(), read.mesh.faces.len()), (11, 12));
    // Three tetrahedra of side 2, with the mirrored ones oriented correctly again.
    assert!((volume(&read.mesh) - 4.0).abs() < 1e-5, "{}", volume(&read.mesh));
    assert_eq!(read.notes, [ReadNotice::PointsOrLines { count: 1 }]);
    // Corner (1, 0, 0) of the first: scaled by 2, rotated by 90 degrees about z, shifted by 10 along x.
    let corner = read.mesh.vertices[1];
    assert!(corner.iter().zip([10.0, 2.0, 0.0]).all(|(a, b)| (a - b).abs() < 1e-6), "{corner:?}");
    // The same corner of the second, mirrored and raised by 5 before that.
    let corner = read.mesh.vertices[5];
    assert!(corner.iter().zip([10.0, -2.0, 10.0]).all(|(a, b)| (a - b).abs() < 1e-6), "{corner:?}");
}

#[test]
fn no_prefix_of_a_file_panics() {
    for (name, file) in ALL {
        let is_text = name.contains("ascii") || name.ends_with("obj");
        for end in 0..file.len() {
            // A text may lose its last line and still be complete.
            assert!(read_checked(&file[..end]).is_err() || is_text, "{name}: {end} bytes of it were read");
        }
    }
}

#[test]
fn no_changed_byte_panics() {
    for (_, file) in ALL {
        let mut changed = file.to_vec();
        for at in 0..file.len() {
            let flips = (0..8).map(|bit| file[at] ^ (1 << bit));
            for byte in flips.chain([0, b' ', b'\n', b'-', b'9', 0x7f, 0xff]) {
                changed[at] = byte;
                let _: Result<ReadMesh, ReadError> = read_checked(&changed);
            }
            changed[at] = file[at];
        }
    }
}

#[test]
fn no_removed_piece_panics() {
    for (_, file) in ALL {
        for at in 0..file.len() {
            for length in [1, 2, 4, 13, 50] {
                let after = file.get(at + length..).unwrap_or_default();
                let _: Result<ReadMesh, ReadError> = read_checked(&[&file[..at], after].concat());
            }
        }
    }
}

/// Counts far beyond the file content: an immediate answer, and no memory allocated from the count.
#[test]
fn counts_are_not_believed() {
    let ply = |encoding: &str, elements: &str| {
        format!("ply\nformat {encoding} 1.0\n{elements}end_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n")
            .into_bytes()
    };
    let vertex = "property float x\nproperty float y\nproperty float z\n";
    let face = "property list uint int vertex_indices\n";
    for encoding in ["ascii", "binary_little_endian", "binary_big_endian"] {
        for (n_vertices, n_faces) in
            [(4_000_000_000_u64, 1), (3, 4_000_000_000), (3, u64::MAX), (u64::MAX, u64::MAX)]
        {
            let elements = format!("element vertex {n_vertices}\n{vertex}element face {n_faces}\n{face}");
            assert!(read_checked(&ply(encoding, &elements)).is_err(), "{elements}");
        }
        let elements =
            format!("element nothing {}\nelement vertex 3\n{vertex}element face 1\n{face}", u64::MAX);
        assert_eq!(read_checked(&ply(encoding, &elements)).is_ok(), encoding == "ascii");
        let bare = format!("element vertex 3\nelement face 1\n{face}");
        assert!(read_checked(&ply(encoding, &bare)).is_err(), "vertices without coordinates");
    }
}

type Writer = fn(&RawMesh, &mut Vec<u8>) -> std::io::Result<()>;
const WRITERS: [(MeshFormat, Writer); 5] = [
    (MeshFormat::PlyAscii, |mesh, out| write_ply_ascii(mesh, out)),
    (MeshFormat::PlyBinaryLittleEndian, |mesh, out| write_ply_binary(mesh, out)),
    (MeshFormat::StlAscii, |mesh, out| write_stl_ascii(mesh, out)),
    (MeshFormat::StlBinary, |mesh, out| write_stl_binary(mesh, out)),
    (MeshFormat::Obj, |mesh, out| write_obj(mesh, out)),
];

fn written(mesh: &RawMesh, write: Writer) -> Vec<u8> {
    let mut bytes = Vec::new();
    write(mesh, &mut bytes).expect("writing to memory cannot fail");
    bytes
}

#[test]
fn nothing_is_written_for_a_vertex_that_is_not_there() {
    let mesh = RawMesh { vertices: vec![[0.0; 3]; 3], faces: vec![[0, 1, 3]] };
    for (format, write) in WRITERS {
        let error = write(&mesh, &mut Vec::new()).unwrap_err();
        assert_eq!(error.kind(), std::io::ErrorKind::InvalidInput, "{}", format.name());
    }
}

#[test]
fn an_independent_reader_finds_the_same_ply() {
    use ply_rs_bw::{parser::Parser, ply::DefaultElement, ply::Property};
    let mesh = read(fixture!("pyramid-liberties.obj")).unwrap().mesh;
    for write in [WRITERS[0].1, WRITERS[1].1] {
        let bytes = written(&mesh, write);
        let ply = Parser::<DefaultElement>::new().read_ply(&mut bytes.as_slice()).unwrap();
        for (theirs, ours) in ply.payload["vertex"].iter().zip(&mesh.vertices) {
            let expected = ours.map(|x| Property::Float(x as f32));
            assert_eq!([&theirs["x"], &theirs["y"], &theirs["z"]], expected.each_ref());
        }
        let faces: Vec<Vec<u32>> =
            ply.payload["face"].iter().map(|face| face["vertex_indices"].to_u32_list().unwrap()).collect();
        assert_eq!(faces, mesh.faces);
    }
}

#[test]
fn an_independent_reader_finds_the_same_stl() {
    let mesh = read(fixture!("pyramid-liberties.obj")).unwrap().mesh;
    for write in [WRITERS[2].1, WRITERS[3].1] {
        let bytes = written(&mesh, write);
        let stl = stl_io::read_stl(&mut std::io::Cursor::new(bytes)).unwrap();
        assert_eq!(stl.faces.len(), mesh.faces.len());
        for (theirs, ours) in stl.faces.iter().zip(&mesh.faces) {
            for (vertex, index) in theirs.vertices.iter().zip(ours) {
                let expected = mesh.vertices[*index as usize].map(|x| (x as f32).to_bits());
                assert_eq!(stl.vertices[*vertex].0.map(f32::to_bits), expected);
            }
            let [nx, ny, nz] = theirs.normal.0;
            assert!((nx * nx + ny * ny + nz * nz - 1.0).abs() < 1e-6);
        }
    }
}

/// File starts that select each reader, with enough of a valid header that random bytes reach the inner code.
const MAGICS: [&[u8]; 9] = [
    b"ply\n",
    b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n\
      element face 2\nproperty list char int vertex_index\nend_header\n",
    b"ply\nformat binary_little_endian 1.0\nelement face 2\nproperty list char short vertex_index\n\
      element tristrips 1\nproperty list uchar char vertex_indices\n\
      element vertex 3\nproperty char x\nproperty short y\nproperty double z\nend_header\n",
    b"solid\n",
    b"solid\nfacet normal 0 0 1\nouter loop\n",
    b"glTF\x02\0\0\0",
    b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
    b"<html>",
    &[0; 80],
];

/// Words of every text format, in any order.
fn text_word() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "solid",
        "facet",
        "normal",
        "outer",
        "loop",
        "vertex",
        "endloop",
        "endfacet",
        "endsolid",
        "v",
        "f",
        "vt",
        "l",
        "1",
        "2",
        "3",
        "-1",
        "0",
        "1/2/3",
        "1//2",
        "nan",
        "1e400",
        "4294967296",
        "99999999999999999999",
        "\\\n",
        "\n",
        "\n",
        "\n",
        "\r",
        "#",
        "element",
        "property",
        "list",
        "uchar",
        "int",
        "x",
        "y",
        "z",
        "face",
        "end_header",
        "vertex_indices",
        "format",
        "ascii",
        "binary_big_endian",
        "1.0",
    ])
}

/// Meshes with single-precision coordinates, which every format can represent, and all indices in range.
fn mesh() -> impl Strategy<Value = RawMesh> {
    (3_usize..40).prop_flat_map(|n| {
        let coordinate = any::<f32>().prop_filter("finite", |x| x.is_finite()).prop_map(f64::from);
        let vertices = prop::collection::vec(prop::array::uniform3(coordinate), n);
        let faces = prop::collection::vec(prop::array::uniform3(0..n as u32), 1..60);
        (vertices, faces).prop_map(|(vertices, faces)| RawMesh { vertices, faces })
    })
}

proptest! {
    #[test]
    fn random_bytes_after_a_magic_never_panic(
        magic in prop::sample::select(MAGICS.to_vec()),
        rest in prop::collection::vec(any::<u8>(), 0..400),
    ) {
        let _: Result<ReadMesh, ReadError> = read_checked(&[magic, &rest].concat());
    }

    #[test]
    fn random_words_never_panic(
        magic in prop::sample::select(MAGICS.to_vec()),
        words in prop::collection::vec(text_word(), 0..80),
    ) {
        let _: Result<ReadMesh, ReadError> = read_checked(&[magic, words.join(" ").as_bytes()].concat());
    }

    #[test]
    fn several_changed_bytes_never_panic(
        file in prop::sample::select(ALL.map(|(_, file)| file).to_vec()),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8),
    ) {
        let mut bytes = file.to_vec();
        for (at, byte) in changes {
            bytes[at.index(file.len())] = byte;
        }
        let _: Result<ReadMesh, ReadError> = read_checked(&bytes);
    }

    /// Formats with common vertices return the mesh itself, bit for bit.
    #[test]
    fn indexed_formats_give_back_what_was_written(mesh in mesh()) {
        for (format, write) in [WRITERS[0], WRITERS[1], WRITERS[4]] {
            let back = read_checked(&written(&mesh, write)).unwrap();
            prop_assert_eq!(back.format, format);
            prop_assert_eq!(bits(&back.mesh.vertices), bits(&mesh.vertices));
            prop_assert_eq!(&back.mesh.faces, &mesh.faces);
        }
    }

    /// STL returns every corner, a negative zero as zero, and each vertex once.
    #[test]
    fn stl_gives_back_every_corner(mesh in mesh()) {
        for (format, write) in [WRITERS[2], WRITERS[3]] {
            let back = read_checked(&written(&mesh, write)).unwrap();
            prop_assert_eq!(back.format, format);
            let corners = |mesh: &RawMesh| -> Vec<[f64; 3]> {
                mesh.faces.as_flattened().iter().map(|i| mesh.vertices[*i as usize].map(|x| x + 0.0)).collect()
            };
            prop_assert_eq!(bits(&corners(&back.mesh)), bits(&corners(&mesh)));
            let mut distinct = bits(&back.mesh.vertices);
            distinct.sort_unstable();
            distinct.dedup();
            prop_assert_eq!(distinct.len(), back.mesh.vertices.len());
        }
    }

    /// Double precision is kept if the format has it.
    #[test]
    fn double_precision_is_kept(x in any::<f64>().prop_filter("not NaN", |x| !x.is_nan())) {
        let mesh = RawMesh { vertices: vec![[x, 0.1, -0.0], [1.0; 3], [2.0; 3]], faces: vec![[0, 1, 2]] };
        for (_, write) in [WRITERS[0], WRITERS[1], WRITERS[4]] {
            let back = read_checked(&written(&mesh, write)).unwrap();
            prop_assert_eq!(bits(&back.mesh.vertices), bits(&mesh.vertices));
        }
    }
}
