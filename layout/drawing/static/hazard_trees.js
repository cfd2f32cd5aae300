// Hazard trees that stand: a mark on each, and round those not marked the two tree lengths
// everybody keeps off.

import * as store from "/store.js";
import { styles } from "/looks.js";
import { sources, vector } from "/ground.js";
import { marked } from "/stems.js";
import { onLengths, lengthWords } from "/lengths.js";

let trees = null;
let bad = [];

export function build(map, area) {
  ({ trees, hazard_trees: bad } = area);
  if (!bad.length) return;
  vector(map, "hazard_trees", "Hazard trees, and two tree lengths round those not marked", [], null, { z: 18 });
  store.listen(paint);
  onLengths(paint);
}

function paint() {
  const source = sources.hazard_trees;
  source.clear(true);
  const put = (shape, style) => {
    const feature = new ol.Feature(shape);
    feature.setStyle(style);
    source.addFeature(feature);
  };
  for (const { row, kind, keep_off_m: off } of bad) {
    const place = [trees.x[row], trees.y[row]];
    const first = marked(row);
    if (!first) put(new ol.geom.Circle(place, off), styles.keepOff);
    put(new ol.geom.Point(place), styles.hazardTree(`${trees.id[row]} ${kind}${first ? ", cut first" : `: keep ${lengthWords(off)} off`}`));
  }
}
