//! A triangulated unit sphere.

use nalgebra::Point3;

use crate::sweep::Sheet;

/// An icosahedron, each face divided into `divisions` squared triangles, on the unit sphere; normals outward.
/// Mid-side points lie on the sphere too.
pub(crate) fn icosphere(divisions: usize) -> Sheet {
    let golden = f64::midpoint(1.0, 5f64.sqrt());
    let mut corners = Vec::with_capacity(12);
    for (one, phi) in [(1.0, golden), (-1.0, golden), (1.0, -golden), (-1.0, -golden)] {
        corners.push(Point3::new(0.0, one, phi));
        corners.push(Point3::new(one, phi, 0.0));
        corners.push(Point3::new(phi, 0.0, one));
    }
    // Faces: triples of corners at distance 2 (the edge), turned outward.
    let mut faces = Vec::with_capacity(20);
    let near = |i: usize, j: usize| nalgebra::distance_squared(&corners[i], &corners[j]) < 4.5;
    for i in 0..12 {
        for j in i + 1..12 {
            for k in j + 1..12 {
                if near(i, j) && near(j, k) && near(i, k) {
                    let normal = (corners[j] - corners[i]).cross(&(corners[k] - corners[i]));
                    faces.push(if normal.dot(&corners[i].coords) > 0.0 { [i, j, k] } else { [i, k, j] });
                }
            }
        }
    }
    // Points of a face in whole barycentric steps; a point shared by faces has the same key in all of them.
    let mut numbers = std::collections::BTreeMap::<Vec<(usize, usize)>, u32>::new();
    let mut vertices = Vec::new();
    let mut triangles = Vec::new();
    for face in faces {
        let mut number = |steps: [usize; 3]| {
            let mut key = (0..3).filter(|&k| steps[k] > 0).map(|k| (face[k], steps[k])).collect::<Vec<_>>();
            key.sort_unstable();
            *numbers.entry(key).or_insert_with_key(|key| {
                let sum = key.iter().map(|&(corner, weight)| corners[corner].coords * weight as f64);
                vertices.push(Point3::from(sum.sum::<nalgebra::Vector3<f64>>().normalize()));
                vertices.len() as u32 - 1
            })
        };
        for i in 0..divisions {
            for j in 0..divisions - i {
                let k = divisions - i - j;
                triangles.push([number([k, i, j]), number([k - 1, i + 1, j]), number([k - 1, i, j + 1])]);
                if k >= 2 {
                    triangles.push([
                        number([k - 1, i + 1, j]),
                        number([k - 2, i + 1, j + 1]),
                        number([k - 1, i, j + 1]),
                    ]);
                }
            }
        }
    }
    let points = vertices.clone();
    Sheet::new(vertices, triangles, |m, n| {
        Point3::from((points[m as usize].coords + points[n as usize].coords).normalize())
    })
}
