//! Triangle meshes: one file per format, repair with its tally, topology, plane cuts, moments
