// Where a place lies, in words: on the grid, and by latitude and longitude; a line is broken
// between the two, not before a letter.

// Between the four corners of the area, each [longitude, latitude] in the order south west,
// south east, north east, north west; null where the area does not give them.
function lonLat(area, [x, y]) {
  const corners = area.lonlat && area.lonlat.corners;
  if (!corners) return null;
  const [west, south, east, north] = area.bounds;
  const u = (x - west) / (east - west);
  const v = (y - south) / (north - south);
  const shares = [(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v];
  return [0, 1].map((k) => shares.reduce((sum, share, n) => sum + share * corners[n][k], 0));
}

export function placeWords(area, [x, y]) {
  const grid = `${x.toFixed(0)}\u00a0E ${y.toFixed(0)}\u00a0N`;
  const found = lonLat(area, [x, y]);
  if (!found) return grid;
  const [lon, lat] = found;
  return `${grid} · ${Math.abs(lat).toFixed(5)}°\u00a0${lat < 0 ? "S" : "N"} ${Math.abs(lon).toFixed(5)}°\u00a0${lon < 0 ? "W" : "E"}`;
}
