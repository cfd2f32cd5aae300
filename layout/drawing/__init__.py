"""The local map: what is drawn in the browser, judged, planned and kept."""
