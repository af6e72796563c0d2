"""Loads a mesh and cuts it at 24 planes with a general-purpose library: what one would script in the place of a measurement.

Prints the seconds from the start of loading to the last cut, importing not counted."""

import sys
import time

N_CUTS = 24


def places(low, high):
    return [low + (high - low) * (i + 1) / (N_CUTS + 1) for i in range(N_CUTS)]


def with_trimesh(path):
    import numpy as np
    import trimesh

    start = time.perf_counter()
    mesh = trimesh.load(path, process=True)
    spread = mesh.vertices - mesh.vertices.mean(axis=0)
    axis = np.linalg.eigh(np.cov(spread.T))[1][:, -1]
    along = spread @ axis
    for place in places(along.min(), along.max()):
        section = mesh.section(axis, mesh.vertices.mean(axis=0) + place * axis)
        assert section is not None
    return time.perf_counter() - start


def with_vtk(path):
    import vtk
    from vtk.util.numpy_support import vtk_to_numpy
    import numpy as np

    start = time.perf_counter()
    reader = vtk.vtkSTLReader() if path.endswith(".stl") else vtk.vtkPLYReader()
    reader.SetFileName(path)
    reader.Update()
    mesh = reader.GetOutput()
    points = vtk_to_numpy(mesh.GetPoints().GetData()).astype(float)
    centre = points.mean(axis=0)
    axis = np.linalg.eigh(np.cov((points - centre).T))[1][:, -1]
    along = (points - centre) @ axis
    for place in places(along.min(), along.max()):
        plane = vtk.vtkPlane()
        plane.SetNormal(*axis)
        plane.SetOrigin(*(centre + place * axis))
        cutter = vtk.vtkPlaneCutter()
        cutter.SetPlane(plane)
        cutter.SetInputData(mesh)
        cutter.Update()
    return time.perf_counter() - start


print({"trimesh": with_trimesh, "vtk": with_vtk}[sys.argv[1]](sys.argv[2]))
