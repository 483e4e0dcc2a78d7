import type { Extent } from 'ol/extent'

/** How likely each square of ground is, for drawing. */
export interface LandingDensity {
  width: number
  height: number
  cell_m: number
  west_m: number
  south_m: number
  /** Rows from north to south, 255 sqrt(density / max). */
  values: Uint8Array
}

const HEADER_BYTES = 16

/** Reads the bytes of `landing_density`; throws with what is wrong. */
export function decodeDensity(bytes: ArrayBuffer): LandingDensity {
  if (bytes.byteLength < HEADER_BYTES) {
    throw new Error(`landing density: ${String(bytes.byteLength)} bytes, at least ${String(HEADER_BYTES)} are allowed`)
  }
  const head = new DataView(bytes)
  const width = head.getUint16(0, true)
  const height = head.getUint16(2, true)
  const cell_m = head.getFloat32(4, true)
  const west_m = head.getFloat32(8, true)
  const south_m = head.getFloat32(12, true)
  if (width === 0 || height === 0 || bytes.byteLength !== HEADER_BYTES + width * height) {
    throw new Error(
      `landing density: ${String(bytes.byteLength)} bytes do not hold ${String(width)} x ${String(height)} squares`,
    )
  }
  if (!(cell_m > 0) || !Number.isFinite(cell_m) || !Number.isFinite(west_m) || !Number.isFinite(south_m)) {
    throw new Error('landing density: size and edges must be finite, the size above zero')
  }
  return { width, height, cell_m, west_m, south_m, values: new Uint8Array(bytes, HEADER_BYTES) }
}

/** West, south, east, north edge, metres from the pad. */
export function densityExtent(it: LandingDensity): Extent {
  return [it.west_m, it.south_m, it.west_m + it.width * it.cell_m, it.south_m + it.height * it.cell_m]
}

// Below this (a 300th of the greatest density) the wash is left out, so that the picture shows no edge.
const FAINTEST = 15

/** One ink, thicker where likelier: no colour scale to learn, nothing lost to colour blindness or glare. */
export function washOf(it: LandingDensity, ink: readonly [number, number, number], strongest: number): Uint8ClampedArray<ArrayBuffer> {
  const rgba = new Uint8ClampedArray(it.width * it.height * 4)
  for (let i = 0; i < it.values.length; i++) {
    const thick = Math.max(0, (it.values[i] ?? 0) - FAINTEST) / (255 - FAINTEST)
    rgba.set([ink[0], ink[1], ink[2], 255 * thick * strongest], i * 4)
  }
  return rgba
}
