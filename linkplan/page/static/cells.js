/* The computed map over the hillshade: a canvas that is painted at once, so nothing flickers while one drags.
   Where the picture is transparent nothing is known; the hatch of the style sheet shows there. */

export const Cells = L.ImageOverlay.extend({
  initialize(bounds, options) {
    L.ImageOverlay.prototype.initialize.call(this, "", bounds, options);
  },

  _initImage() {
    const canvas = L.DomUtil.create("canvas", "cells leaflet-image-layer");
    if (this._zoomAnimated) canvas.classList.add("leaflet-zoom-animated");
    canvas.setAttribute("aria-hidden", "true");
    this._image = canvas;
  },

  paint(bitmap, bounds) {
    const canvas = this._image;
    if (canvas.width !== bitmap.width || canvas.height !== bitmap.height) {
      canvas.width = bitmap.width;
      canvas.height = bitmap.height;
    }
    const context = canvas.getContext("2d");
    context.globalCompositeOperation = "copy";
    context.drawImage(bitmap, 0, 0);
    if (this._bitmap) this._bitmap.close();
    this._bitmap = bitmap;
    this.setBounds(L.latLngBounds(bounds));
  },

  forget() {
    if (this._bitmap) this._bitmap.close();
    this._bitmap = null;
  },

  /* "r,g,b" of the pixel at a place, "" where nothing is known, null outside the picture. */
  colourAt(where) {
    if (!this._bitmap) return null;
    const { width, height } = this._bitmap;
    const project = (one) => L.CRS.EPSG3857.project(one);
    const [low, high, at] = [this._bounds.getSouthWest(), this._bounds.getNorthEast(), where].map(project);
    const column = Math.floor(((at.x - low.x) / (high.x - low.x)) * width);
    const row = Math.floor(((high.y - at.y) / (high.y - low.y)) * height);
    if (column < 0 || row < 0 || column >= width || row >= height) return null;
    const [red, green, blue, alpha] = pixelOf(this._bitmap, column, row);
    return alpha ? `${red},${green},${blue}` : "";
  },
});

const spot = document.createElement("canvas");
spot.width = 1;
spot.height = 1;
const looking = spot.getContext("2d", { willReadFrequently: true });

function pixelOf(bitmap, column, row) {
  looking.clearRect(0, 0, 1, 1);
  looking.drawImage(bitmap, -column, -row);
  return looking.getImageData(0, 0, 1, 1).data;
}
