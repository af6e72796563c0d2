//! GLB: a glTF 2.0 scene in one file. The mesh consists of all triangles of the scene, placed by its nodes.

use super::glb_data::{Chunks, Column, FORMAT, fault};
use super::polygon::push_strip;
use crate::notice::ReadNotice;
use crate::read_mesh::ReadMesh;
use crate::{RawMesh, ReadError};
use gltf::json::validation::Checked;
use gltf::json::{Root, mesh::Semantic as JsonSemantic};
use gltf::mesh::Mode;
use gltf::scene::Transform;
use gltf::{Document, Node, Primitive, Semantic};
use nalgebra::{Matrix4, Point3, Quaternion, Translation3, UnitQuaternion, Vector3};
use std::collections::{BTreeMap, BTreeSet};

/// Number of vertices or triangles that any file may expand to. Beyond it the limit is one per byte of the file. Nodes can repeat
/// one mesh many times, and memory must stay proportional to the file size.
const UNFOLDED_FREE: usize = 100_000;
/// Offset of the scene description: after the header and the head of its chunk.
const JSON_AT: usize = 20;
/// Positions may exceed their stated bounds by this fraction of the diagonal: programs round the bounds (chosen).
const BOUNDS_ROOM: f64 = 0.01;
/// Positions that extend over less of the diagonal of their stated bounds are other data, such as directions or colours (chosen). Bounds of a whole scene, stated for
/// a part of it, are wider too, so that less wide ones are only noted.
const LEAST_OF_BOUNDS: f64 = 1.0 / 3.0;
/// Maximum length of a message from another library.
const MESSAGE_CHARS: usize = 200;
const POSITION: Checked<JsonSemantic> = Checked::Valid(JsonSemantic::Positions);
/// Required extensions that change appearance but not shape, by the start of their names.
const LOOKS: [&str; 6] =
    ["KHR_materials_", "KHR_texture_", "EXT_texture_", "KHR_lights_", "MSFT_texture_", "EXT_lights_"];

/// Reads the triangles of the default scene, placed by their nodes.
pub(super) fn read(bytes: &[u8]) -> Result<ReadMesh, ReadError> {
    let mut notes = Vec::new();
    let chunks = Chunks::split(bytes, &mut notes)?;
    let (document, left, stated) = document(chunks.json)?;
    let limit = UNFOLDED_FREE + bytes.len();
    let mut scene = Unfolded { binary: chunks.binary, limit, left, stated, ..Unfolded::default() };
    scene.place_scene(&document)?;
    notes.extend(scene.notes());
    Ok(ReadMesh {
        format: FORMAT,
        triangles_in_file: scene.mesh.faces.len(),
        vertices_in_file: scene.mesh.vertices.len(),
        welded_on_reading: 0,
        mesh: scene.mesh,
        notes,
    })
}

/// The scene description with all indices checked, and what was removed from it.
fn document(json: &[u8]) -> Result<(Document, Left, Stated), ReadError> {
    let mut root = Root::from_slice(json).map_err(|error| {
        fault(JSON_AT, &format!("the description of the scene is broken ({})", one_line(&error.to_string())))
    })?;
    let left = leave_shape_only(&mut root);
    if let Some(name) = root.extensions_required.first() {
        let instead = "export it as plain glTF 2.0, without compression or quantisation";
        return Err(ReadError::NotSupported { format: FORMAT, what: extension(name), instead });
    }
    let stated = allow_missing_bounds(&mut root)?;
    let document = Document::from_json(root).map_err(|error| fault(JSON_AT, &first_fault(&error)))?;
    Ok((document, left, stated))
}

/// Removes everything that does not affect the mesh, so that a fault in a texture or an animation does not matter.
fn leave_shape_only(root: &mut Root) -> Left {
    let mut left =
        Left { has_materials: !root.materials.is_empty(), is_bent: !root.skins.is_empty(), n_sets: 0 };
    root.extensions_required.retain(|name| !LOOKS.iter().any(|start| name.starts_with(start)));
    root.materials.clear();
    root.textures.clear();
    root.images.clear();
    root.samplers.clear();
    root.animations.clear();
    root.cameras.clear();
    root.skins.clear();
    for node in &mut root.nodes {
        (node.camera, node.skin, node.weights) = (None, None, None);
    }
    for mesh in &mut root.meshes {
        mesh.weights = None;
        let n_sets = mesh.primitives.len();
        // By the standard primitives without positions are ignored.
        mesh.primitives.retain(|primitive| primitive.attributes.contains_key(&POSITION));
        left.n_sets += n_sets - mesh.primitives.len();
        for primitive in &mut mesh.primitives {
            primitive.attributes.retain(|name, _| *name == POSITION);
            primitive.material = None;
            left.is_bent |= primitive.targets.take().is_some();
        }
    }
    left
}

/// Takes out the bounds of positions and fills in others. The standard requires them, many programs omit them. It also
/// checks the accessor numbers, because `gltf` 1.4 panics at a wrong one when it reads the bounds.
fn allow_missing_bounds(root: &mut Root) -> Result<Stated, ReadError> {
    let mut stated = Stated::new();
    let primitives = root.meshes.iter().flat_map(|mesh| &mesh.primitives);
    for accessor in primitives.flat_map(|primitive| primitive.attributes.values()) {
        let number = accessor.value();
        let accessor = root.accessors.get_mut(number);
        let accessor = accessor.ok_or_else(|| fault(JSON_AT, &format!("there is no accessor {number}")))?;
        let [low, high] = [&mut accessor.min, &mut accessor.max]
            .map(|bound| bound.replace(vec![0_f32; 3].into()).and_then(|v| numbers(v.as_array()?)));
        if let Some(bounds) = low.zip(high) {
            // A number that is used twice has the filled-in bounds at the second time.
            stated.entry(number).or_insert(bounds.into());
        }
    }
    Ok(stated)
}

/// Three numbers.
fn numbers<V: ToString>(values: &[V]) -> Option<[f64; 3]> {
    let [x, y, z] = values else { return None };
    Some([x.to_string().parse().ok()?, y.to_string().parse().ok()?, z.to_string().parse().ok()?])
}

/// Refuses positions that contradict the bounds stated for them: the bytes at this place are not these positions. By the standard the bounds are those of the
/// positions exactly. Wider ones are read; the number of the accessor is returned.
fn check_bounds(accessor: usize, positions: Column<'_>, stated: &Stated) -> Result<Option<usize>, ReadError> {
    let Some([low, high]) = stated.get(&accessor) else { return Ok(None) };
    let diagonal = (0..3).map(|k| (high[k] - low[k]).powi(2)).sum::<f64>().sqrt();
    let room = BOUNDS_ROOM * diagonal;
    let outside = |p: &[f64; 3]| (0..3).any(|k| p[k] < low[k] - room || high[k] + room < p[k]);
    // Some programs state zeros for unknown bounds.
    if diagonal <= 0.0 {
        return Ok(None);
    }
    if let Some(vertex) = positions.vectors().position(|p| outside(&p)) {
        return Err(fault(
            JSON_AT,
            &format!(
                "vertex {vertex} of accessor {accessor} lies outside the `min` and `max` stated for it, so the byte offset or the coordinates are wrong"
            ),
        ));
    }
    let (mut least, mut most) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for p in positions.vectors() {
        for k in 0..3 {
            least[k] = least[k].min(p[k]);
            most[k] = most[k].max(p[k]);
        }
    }
    let seen = (0..3).map(|k| (most[k] - least[k]).powi(2)).sum::<f64>().sqrt();
    if seen < LEAST_OF_BOUNDS * diagonal {
        return Err(fault(
            JSON_AT,
            &format!(
                "the positions of accessor {accessor} extend over {:.0} % of the `min` and `max` stated for them, so the byte offset or the coordinates are wrong",
                100.0 * seen / diagonal
            ),
        ));
    }
    let reaches = (0..3).all(|k| least[k] <= low[k] + room && high[k] - room <= most[k]);
    Ok((!reaches).then_some(accessor))
}

fn extension(name: &str) -> String {
    match name {
        "KHR_draco_mesh_compression" => "a mesh with Draco compression".into(),
        "EXT_meshopt_compression" | "KHR_meshopt_compression" => "a mesh with meshopt compression".into(),
        "KHR_mesh_quantization" => "a mesh with quantised coordinates".into(),
        other => format!("the extension {}", super::text::quoted(other.as_bytes())),
    }
}

/// A message of another library in one line.
fn one_line(message: &str) -> String {
    message.chars().map(|c| if c.is_control() { ' ' } else { c }).take(MESSAGE_CHARS).collect()
}

fn first_fault(error: &gltf::Error) -> String {
    let what = match error {
        gltf::Error::Validation(faults) if !faults.is_empty() => format!("{}: {}", faults[0].0, faults[0].1),
        other => other.to_string(),
    };
    format!("the description of the scene contradicts itself ({})", one_line(&what))
}

/// Lowest and highest coordinates that the file states, by accessor number.
type Stated = BTreeMap<usize, [[f64; 3]; 2]>;

/// What was removed from the description before reading it.
#[derive(Default)]
struct Left {
    has_materials: bool,
    /// Skins or morph targets.
    is_bent: bool,
    /// Primitives without positions.
    n_sets: usize,
}

/// The scene as one mesh, while it is assembled.
#[derive(Default)]
struct Unfolded<'a> {
    binary: &'a [u8],
    mesh: RawMesh,
    /// Maximum number of vertices and of triangles.
    limit: usize,
    left: Left,
    stated: Stated,
    n_left_over: usize,
    n_scenes_left: usize,
    /// Accessors whose stated bounds were compared with their positions.
    checked: BTreeSet<usize>,
    /// Those whose stated bounds are wider than their positions.
    wide_bounds: BTreeSet<usize>,
}

impl<'a> Unfolded<'a> {
    /// The default scene, or the first. In a file without scenes all root nodes; without nodes all meshes.
    fn place_scene(&mut self, document: &Document) -> Result<(), ReadError> {
        let scene = document.default_scene().or_else(|| document.scenes().next());
        self.n_scenes_left = document.scenes().count().saturating_sub(1);
        match scene {
            Some(scene) => self.place_nodes(document, scene.nodes().collect()),
            None if document.nodes().len() == 0 => {
                document.meshes().try_for_each(|mesh| self.place_mesh(&mesh, &Matrix4::identity()))
            }
            None => {
                let mut is_child = vec![false; document.nodes().len()];
                document
                    .nodes()
                    .flat_map(|node| node.children())
                    .for_each(|child| is_child[child.index()] = true);
                self.place_nodes(document, document.nodes().filter(|node| !is_child[node.index()]).collect())
            }
        }
    }

    /// Traverses the nodes from the roots. The standard requires a tree, so a node that is visited again is an error. Without the
    /// check a cycle of nodes would never end.
    fn place_nodes(&mut self, document: &Document, roots: Vec<Node<'_>>) -> Result<(), ReadError> {
        let mut is_met = vec![false; document.nodes().len()];
        let mut open: Vec<_> = roots.into_iter().rev().map(|root| (root, Matrix4::identity())).collect();
        while let Some((node, parent)) = open.pop() {
            if std::mem::replace(&mut is_met[node.index()], true) {
                return Err(fault(JSON_AT, &format!("node {} has more than one parent", node.index())));
            }
            let to_scene = parent * matrix(&node);
            if let Some(mesh) = node.mesh() {
                self.place_mesh(&mesh, &to_scene)?;
            }
            open.extend(node.children().map(|child| (child, to_scene)));
        }
        Ok(())
    }

    fn place_mesh(&mut self, mesh: &gltf::Mesh<'_>, to_scene: &Matrix4<f64>) -> Result<(), ReadError> {
        // Primitives of one mesh often share their vertices: accessor number -> number of the first vertex.
        let mut placed = BTreeMap::new();
        for primitive in mesh.primitives() {
            match primitive.mode() {
                Mode::Points | Mode::Lines | Mode::LineLoop | Mode::LineStrip => self.left.n_sets += 1,
                mode => self.place_primitive(&primitive, mode, to_scene, &mut placed)?,
            }
        }
        Ok(())
    }

    fn place_primitive(
        &mut self,
        primitive: &Primitive<'_>,
        mode: Mode,
        to_scene: &Matrix4<f64>,
        placed: &mut BTreeMap<usize, u32>,
    ) -> Result<(), ReadError> {
        let Some(accessor) = primitive.get(&Semantic::Positions) else {
            return Ok(());
        };
        let positions = Column::positions(&accessor, self.binary)?;
        if self.checked.insert(accessor.index()) {
            self.wide_bounds.extend(check_bounds(accessor.index(), positions, &self.stated)?);
        }
        let first = match placed.get(&accessor.index()) {
            Some(first) => *first,
            None => self.place_vertices(positions, to_scene)?,
        };
        placed.insert(accessor.index(), first);
        let corners = self.corners(primitive, positions.count)?;
        self.check_room(self.mesh.faces.len(), corners.len())?;
        let begin = self.mesh.faces.len();
        self.push_faces(mode, &corners);
        let is_mirrored = to_scene.fixed_view::<3, 3>(0, 0).determinant() < 0.0;
        for face in &mut self.mesh.faces[begin..] {
            *face = face.map(|index| first + index);
            if is_mirrored {
                face.swap(1, 2);
            }
        }
        Ok(())
    }

    fn place_vertices(&mut self, positions: Column<'a>, to_scene: &Matrix4<f64>) -> Result<u32, ReadError> {
        let first = self.mesh.vertices.len();
        self.check_room(first, positions.count)?;
        let place =
            |position: [f64; 3]| -> [f64; 3] { to_scene.transform_point(&Point3::from(position)).into() };
        self.mesh.vertices.extend(positions.vectors().map(place));
        // The size was checked, so the number fits.
        Ok(first as u32)
    }

    /// The vertex numbers of the primitive's corners, each below `n_vertices`.
    fn corners(&self, primitive: &Primitive<'_>, n_vertices: usize) -> Result<Vec<u32>, ReadError> {
        let Some(accessor) = primitive.indices() else {
            // The vertices were placed, so their number fits.
            return Ok((0..n_vertices as u32).collect());
        };
        let corners: Vec<u32> = Column::indices(&accessor, self.binary)?.whole_numbers().collect();
        match corners.iter().position(|index| n_vertices <= *index as usize) {
            None => Ok(corners),
            Some(at) => Err(ReadError::FaceIndex {
                format: FORMAT,
                face: self.mesh.faces.len() + face_of_corner(primitive.mode(), at) + 1,
                index: corners[at].into(),
                vertices: n_vertices,
                first: 0,
            }),
        }
    }

    fn push_faces(&mut self, mode: Mode, corners: &[u32]) {
        let faces = &mut self.mesh.faces;
        match mode {
            Mode::TriangleStrip => push_strip(corners, faces),
            Mode::TriangleFan => super::polygon::push_fan(corners, faces),
            _ => {
                let (triangles, rest) = corners.as_chunks::<3>();
                faces.extend_from_slice(triangles);
                self.n_left_over += rest.len();
            }
        }
    }

    fn check_room(&self, present: usize, more: usize) -> Result<(), ReadError> {
        let limit = self.limit.min(u32::MAX as usize);
        if present.checked_add(more).is_some_and(|total| total <= limit) {
            return Ok(());
        }
        let what = format!("its nodes repeat meshes into more than {limit} vertices or corners");
        Err(ReadError::TooLarge { format: FORMAT, what })
    }

    fn notes(&self) -> Vec<ReadNotice> {
        let mut notes = Vec::new();
        if 0 < self.n_scenes_left {
            notes.push(ReadNotice::OtherScenes { count: self.n_scenes_left });
        }
        if 0 < self.left.n_sets {
            notes.push(ReadNotice::PointsOrLines { count: self.left.n_sets });
        }
        if 0 < self.n_left_over {
            notes.push(ReadNotice::LooseCorners { count: self.n_left_over });
        }
        if let Some(accessor) = self.wide_bounds.first() {
            notes.push(ReadNotice::WiderBounds { accessor: *accessor, count: self.wide_bounds.len() });
        }
        if self.left.is_bent {
            notes.push(ReadNotice::Deformations);
        }
        if self.left.has_materials {
            notes.push(ReadNotice::Materials);
        }
        notes
    }
}

/// The first triangle, counted from 0, with the corner at `at`.
fn face_of_corner(mode: Mode, at: usize) -> usize {
    match mode {
        Mode::TriangleStrip | Mode::TriangleFan => at.saturating_sub(2),
        _ => at / 3,
    }
}

/// From the node's axes to its parent's.
fn matrix(node: &Node<'_>) -> Matrix4<f64> {
    match node.transform() {
        Transform::Matrix { matrix } => Matrix4::from(matrix).cast(),
        Transform::Decomposed { translation, rotation: [x, y, z, w], scale } => {
            let translation = Translation3::from(Vector3::from(translation).cast::<f64>());
            let rotation = Quaternion::new(w, x, y, z).cast::<f64>();
            // A zero quaternion rotates nothing.
            let rotation = UnitQuaternion::try_new(rotation, 0.0).unwrap_or_default();
            let scale = Matrix4::new_nonuniform_scaling(&Vector3::from(scale).cast());
            translation.to_homogeneous() * rotation.to_homogeneous() * scale
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::ReadNotice;
    /// One triangle, not indexed, in a file without scenes.
    const TRIANGLE: &str = r#"{"asset":{"version":"2.0"},"nodes":[{"mesh":0}],
        "meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],
        "accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3","min":[0,0,0],"max":[1,1,0]}],
        "bufferViews":[{"buffer":0,"byteLength":36}],"buffers":[{"byteLength":36}]}"#;

    fn glb(json: &str) -> Vec<u8> {
        let corners = [0_f32, 0., 0., 1., 0., 0., 0., 1., 0.];
        glb_of(json, corners.into_iter().flat_map(f32::to_le_bytes).collect())
    }

    fn glb_of(json: &str, binary: Vec<u8>) -> Vec<u8> {
        let mut json = json.as_bytes().to_vec();
        json.resize(json.len().next_multiple_of(4), b' ');
        let length = (28 + json.len() + binary.len()) as u32;
        let mut bytes = [b"glTF".as_slice(), &2_u32.to_le_bytes(), &length.to_le_bytes()].concat();
        for (name, data) in [(b"JSON", &json), (b"BIN\0", &binary)] {
            bytes.extend((data.len() as u32).to_le_bytes());
            bytes.extend(name);
            bytes.extend(data);
        }
        bytes
    }

    /// The triangle behind other data in the same buffer, and the offset at which it is said to be.
    fn behind(others: [f32; 9], offset: usize) -> Vec<u8> {
        let json = TRIANGLE
            .replace(r#""byteLength":36}"#, r#""byteLength":72}"#)
            .replace(r#""bufferView":0,"#, &format!(r#""bufferView":0,"byteOffset":{offset},"#))
            .replace("[1,1,0]", "[100,100,0]");
        let data = others.into_iter().chain([0., 0., 0., 100., 0., 0., 0., 100., 0.]);
        glb_of(&json, data.flat_map(f32::to_le_bytes).collect())
    }

    #[test]
    fn a_wrong_offset_inside_the_buffer_is_refused_or_noted() {
        let directions = [0., 0., 0., 1., 0., 0., 0.6, 0.8, 0.];
        let right = crate::read(&behind(directions, 36)).unwrap();
        assert!(right.mesh.vertices[1][0] > 99.0 && right.notes.is_empty());
        // Directions lie inside the bounds of the positions.
        let message = crate::read(&behind(directions, 0)).unwrap_err().to_string();
        assert!(message.contains("accessor 0 extend over 1 % of the `min` and `max`"), "{message}");
        // Other positions that happen to lie inside them.
        let smaller = crate::read(&behind([0., 0., 0., 50., 0., 0., 0., 50., 0.], 0)).unwrap();
        assert_eq!(smaller.notes, [ReadNotice::WiderBounds { accessor: 0, count: 1 }]);
    }

    /// The triangle with one piece of its description replaced.
    fn changed(from: &str, to: &str) -> Vec<u8> {
        assert!(TRIANGLE.contains(from), "{from}");
        glb(&TRIANGLE.replace(from, to))
    }

    #[test]
    fn without_nodes_every_mesh_is_placed() {
        for bytes in [glb(TRIANGLE), changed(r#""nodes":[{"mesh":0}],"#, "")] {
            assert_eq!(crate::read(&bytes).unwrap().mesh.faces, [[0, 1, 2]]);
        }
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        let required =
            |name: &str| format!(r#"{{"extensionsRequired":["{name}"],"extensionsUsed":["{name}"],"asset""#);
        let cases = [
            (r#"{"asset""#, required("KHR_draco_mesh_compression"), "Draco compression cannot be read"),
            (r#"{"asset""#, required("EXT_meshopt_compression"), "meshopt compression cannot be read"),
            (r#"{"asset""#, required("KHR_mesh_quantization"), "quantised coordinates cannot be read"),
            (r#"{"asset""#, required("OWN_unheard_of"), "the extension `OWN_unheard_of` cannot be read"),
            ("5126", "5122".into(), "quantised coordinates"),
            (r#""type""#, r#""sparse":{"count":1,"indices":{"bufferView":0,"componentType":5121},"values":{"bufferView":0}},"type""#.into(), "sparse data"),
            (r#"[{"byteLength":36}]"#, r#"[{"byteLength":36,"uri":"mesh.bin"}]"#.into(), "outside the file"),
            (r#""count":3"#, r#""count":4"#.into(), "accessor 0, which reaches outside the data"),
            (r#""count":3"#, r#""count":18446744073709551615"#.into(), "accessor 0, which reaches outside the data"),
            (r#""buffer":0,"#, r#""buffer":0,"byteOffset":18446744073709551615,"#.into(), "accessor 0, which reaches"),
            (r#""mesh":0"#, r#""mesh":7"#.into(), "contradicts itself"),
            (r#""POSITION":0"#, r#""POSITION":1"#.into(), "there is no accessor 1"),
            (r#"{"mesh":0}"#, r#"{"mesh":0,"children":[1]},{"children":[1]}"#.into(), "node 1 has more than one parent"),
            (r#"{"mesh":0}"#, r#"{"children":[1]},{"children":[0]}"#.into(), "no vertices and no faces"),
            (r#""POSITION":0"#, r#""NORMAL":0"#.into(), "no vertices and no faces"),
            ("}]}]", r#"},"#.into(), "the description of the scene is broken"),
        ];
        for (from, to, expected) in cases {
            let message = crate::read(&changed(from, &to)).unwrap_err().to_string();
            assert!(message.contains(expected), "{message} for {to}");
        }
    }

    #[test]
    fn faults_that_do_not_touch_the_shape_are_no_hindrance() {
        let cases = [
            (r#","min":[0,0,0],"max":[1,1,0]"#, ""),
            (r#""POSITION":0"#, r#""POSITION":0,"NORMAL":99,"odd":98"#),
            (r#""nodes""#, r#""textures":[{"source":9}],"animations":[],"nodes""#),
        ];
        for (from, to) in cases {
            assert_eq!(crate::read(&changed(from, to)).unwrap().mesh.faces, [[0, 1, 2]], "{to}");
        }
    }

    #[test]
    fn positions_outside_their_stated_bounds_are_refused() {
        let message =
            crate::read(&changed(r#""max":[1,1,0]"#, r#""max":[0.5,1,0]"#)).unwrap_err().to_string();
        assert!(message.contains("vertex 1 of accessor 0 lies outside the `min` and `max`"), "{message}");
        // Rounded bounds, wider ones and zeros for unknown ones are no fault.
        for max in ["[0.995,1,0]", "[2,2,2]", "[0,0,0]"] {
            assert!(crate::read(&changed("[1,1,0]", max)).is_ok(), "{max}");
        }
    }

    #[test]
    fn bones_and_blends_are_noted() {
        let to = r#""POSITION":0},"targets":[{"POSITION":0}]"#;
        let read = crate::read(&changed(r#""POSITION":0}"#, to)).unwrap();
        assert_eq!(read.notes, [ReadNotice::Deformations]);
    }

    #[test]
    fn extensions_that_only_change_looks_are_no_hindrance() {
        let to = r#"{"extensionsRequired":["KHR_materials_unlit"],"materials":[{}],"asset""#;
        let read = crate::read(&changed(r#"{"asset""#, to)).unwrap();
        assert_eq!(read.notes, [ReadNotice::Materials]);
    }

    #[test]
    fn a_mirrored_node_keeps_its_triangles_facing_outwards() {
        let read = crate::read(&changed(r#"{"mesh":0}"#, r#"{"mesh":0,"scale":[-1,1,1]}"#)).unwrap();
        assert_eq!(read.mesh.faces, [[0, 2, 1]]);
        assert_eq!(read.mesh.vertices[1].map(f64::to_bits), [-1.0, 0.0, 0.0].map(f64::to_bits));
    }

    #[test]
    fn repeated_meshes_stay_in_proportion_to_the_file() {
        // 150 primitives under each of 1,000 nodes: 150,000 triangles from 17 kB.
        let primitives = r#"{"attributes":{"POSITION":0}}"#;
        let json = TRIANGLE
            .replace(r#"{"mesh":0}"#, &[r#"{"mesh":0}"#; 1000].join(","))
            .replace(primitives, &[primitives; 150].join(","));
        let message = crate::read(&glb(&json)).unwrap_err().to_string();
        assert!(message.contains("repeat meshes into more than"), "{message}");
    }

    #[test]
    fn an_index_out_of_range_names_its_face() {
        let json = TRIANGLE
            .replace(r#""POSITION":0}"#, r#""POSITION":0},"indices":1"#)
            .replace(r#""accessors":["#, r#""accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3","min":[0,0,0],"max":[1,1,0]},{"bufferView":0,"componentType":5125,"count":6,"type":"SCALAR"},"#);
        let message = crate::read(&glb(&json)).unwrap_err().to_string();
        assert!(
            message.contains("face 2: it names vertex 1065353216, but the file holds 3 vertices"),
            "{message}"
        );
    }

    #[test]
    fn versions_and_lengths_are_checked() {
        let mut old = glb(TRIANGLE);
        old[4] = 1;
        assert!(crate::read(&old).unwrap_err().to_string().contains("version 1 of glTF"));
        for length in [0_u32, 11, 12, 19, u32::MAX] {
            let mut bytes = glb(TRIANGLE);
            bytes[8..12].copy_from_slice(&length.to_le_bytes());
            assert!(crate::read(&bytes).is_err(), "{length}");
        }
    }
}
