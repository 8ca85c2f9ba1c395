// The teeth of the page: what was embedded, unpacked once.

const LESSON = JSON.parse(document.getElementById("lesson-data").textContent);

/** Bytes of a packed text as an array of numbers of a kind. */
function unpacked(text, Kind) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  return new Kind(bytes.buffer);
}

/** Pairs of thousandths of a millimetre as points. */
function points(numbers) {
  return Array.from({ length: numbers.length / 2 }, (_, k) => [numbers[2 * k] / 1000, numbers[2 * k + 1] / 1000]);
}

const TEETH = LESSON.teeth.map((raw) => {
  const { section, solid } = raw;
  const Index = solid.index_bytes === 2 ? Uint16Array : Uint32Array;
  return {
    ...raw,
    resistance: resistanceOf(raw.compliance),
    apexDepth: raw.landmarks.apex_depth_mm,
    cuspHeight: raw.landmarks.cusp_height_mm,
    section: {
      ...section,
      silhouette: section.silhouette.map(points),
      tooth: section.tooth.map(points),
      cancellous: section.cancellous_bone.map(points),
      cortical: section.cortical_bone.map(points),
      ligament: section.ligament.map((strip) => ({
        inner: points(strip.inner),
        outer: points(strip.outer),
        kpa: unpacked(strip.kpa, Float32Array),
      })),
    },
    solid: {
      points: Float32Array.from(unpacked(solid.points, Int16Array), (v) => v * solid.step_mm),
      rootCount: solid.root_points,
      kpa: unpacked(solid.kpa, Float32Array),
      root: unpacked(solid.root, Index),
      crown: unpacked(solid.crown, Index),
      socket: unpacked(solid.socket, Index),
    },
  };
});

/** Pressures on the root under weights, kPa, compression positive. */
function rootPressures(tooth, weights, into = new Float64Array(tooth.solid.rootCount)) {
  return superpose(tooth.solid.kpa, tooth.solid.rootCount, weights, into);
}

