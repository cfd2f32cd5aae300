// Where a place lies, in words: on the grid, and by latitude and longitude.

// Between the four corners of the area, each [longitude, latitude] in the order south west,
// south east, north east, north west; null where the area does not give them.
export function lonLat(area, [x, y]) {
  const corners = area.lonlat && area.lonlat.corners;
  if (!corners) return null;
  const [west, south, east, north] = area.bounds;
  const u = (x - west) / (east - west);
  const v = (y - south) / (north - south);
  const shares = [(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v];
  return [0, 1].map((k) => shares.reduce((sum, share, n) => sum + share * corners[n][k], 0));
}

const STEPS = 6; // the way there is nearly straight: each step leaves less than a hundredth

// The place on the grid that has a longitude and latitude.
export function placeAtLonLat(area, [lon, lat]) {
  const [west, south, east, north] = area.bounds;
  const [wide, high] = [east - west, north - south];
  const origin = lonLat(area, [west, south]);
  const along = lonLat(area, [east, south]).map((v, k) => (v - origin[k]) / wide);
  const up = lonLat(area, [west, north]).map((v, k) => (v - origin[k]) / high);
  const size = along[0] * up[1] - along[1] * up[0];
  let [x, y] = [west, south];
  for (let step = 0; step < STEPS; step += 1) {
    const now = lonLat(area, [x, y]);
    const [dx, dy] = [lon - now[0], lat - now[1]];
    x += (dx * up[1] - dy * up[0]) / size;
    y += (dy * along[0] - dx * along[1]) / size;
  }
  return [x, y];
}

export function placeWords(area, [x, y]) {
  const grid = `${x.toFixed(0)} E  ${y.toFixed(0)} N`;
  const found = lonLat(area, [x, y]);
  if (!found) return grid;
  const [lon, lat] = found;
  return `${grid} · ${Math.abs(lat).toFixed(5)}° ${lat < 0 ? "S" : "N"} ${Math.abs(lon).toFixed(5)}° ${lon < 0 ? "W" : "E"}`;
}
