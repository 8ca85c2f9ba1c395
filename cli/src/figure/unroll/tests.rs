use super::*;

/// A cone with its apex down, `n` points around: radius falls from `r` at the crest to nothing at `depth`.
fn cone(at: [f64; 2], from: f64, to: f64, r: f64) -> (Vec<Point3<f64>>, Vec<[usize; 3]>) {
    let (around, down) = (48, 40);
    let mut points = Vec::new();
    for j in 0..=down {
        let t = f64::from(j) / f64::from(down);
        for i in 0..around {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(around);
            let radius = r * (1.0 - t) + 0.02;
            points.push(Point3::new(
                at[0] + radius * angle.cos(),
                at[1] + radius * angle.sin(),
                -(from + t * (to - from)),
            ));
        }
    }
    let n = around as usize;
    let mut triangles = Vec::new();
    for j in 0..down as usize {
        for i in 0..n {
            let (a, b) = (j * n + i, j * n + (i + 1) % n);
            triangles.push([a, b, a + n]);
            triangles.push([b, b + n, a + n]);
        }
    }
    (points, triangles)
}

#[test]
fn a_cone_unrolls_to_its_own_angles_and_depths() {
    let (points, triangles) = cone([0.3, -0.2], 0.0, 12.0, 3.0);
    // The value is a function of angle and depth alone; it must come back where it was put.
    let value = |angle: f64, depth: f64| 10.0 * angle.cos() - depth;
    let values: Vec<f64> = points.iter().map(|p| value((p.y + 0.2).atan2(p.x - 0.3), -p.z)).collect();
    let surface = Surface { points: &points, values: &values, triangles: &triangles };
    let sheets = surface.unrolled(1, 91, 5.0);
    assert_eq!(sheets.len(), 1);
    let sheet = &sheets[0];
    assert!(sheet.depths[0].abs() < 1e-12 && (sheet.depths[1] - 12.0).abs() < 1e-12);
    let [columns, rows] = sheet.size;
    for j in 0..rows {
        for i in 0..columns {
            let angle = (360.0 * i as f64 / (columns - 1) as f64 - 180.0).to_radians();
            let depth = 12.0 * j as f64 / (rows - 1) as f64;
            let got = sheet.values[j * columns + i];
            // Chords between 48 points around and flat triangles leave a hundredth of the range.
            assert!((got - value(angle, depth)).abs() < 0.15, "{angle} {depth}: {got}");
        }
    }
}

#[test]
fn two_cones_below_a_trunk_are_two_roots_from_buccal_to_lingual() {
    // A trunk that ends where two roots begin, joined to both by their shared ring is not needed: pieces are found below.
    let (mut points, mut triangles) = cone([0.0, 0.0], 0.0, 14.0, 5.0);
    triangles.retain(|t| t.iter().all(|&n| points[n].z > -4.2));
    for at in [[-2.0, 0.0], [2.0, 0.0]] {
        let (more, list) = cone(at, 4.0, 12.0, 1.2);
        let start = points.len();
        points.extend(more);
        triangles.extend(list.iter().map(|t| t.map(|n| n + start)));
    }
    let values: Vec<f64> = points.iter().map(|p| p.x).collect();
    let surface = Surface { points: &points, values: &values, triangles: &triangles };
    let sheets = surface.unrolled(2, 61, 4.0);
    assert_eq!(sheets.len(), 3);
    assert!(sheets[1].middle.x > 1.5 && sheets[2].middle.x < -1.5, "buccal first");
    // The trunk's last whole ring ends at 3.85 mm: below 3.5 mm it has no whole triangle left.
    assert!((sheets[0].depths[1] - 3.6).abs() < 0.11, "cut at {}", sheets[0].depths[1]);
    assert!((sheets[1].depths[1] - 12.0).abs() < 1e-9);
}
