import type { Coordinate } from 'ol/coordinate'
import GeoJSON from 'ol/format/GeoJSON'
import type Geometry from 'ol/geom/Geometry'
import Projection from 'ol/proj/Projection'
import type { LatLon } from '../backend/generated'

/** The sheet the map is drawn on: metres east and north of the pad, flat. For drawing only. */
export const SHEET = new Projection({
  code: 'WINDFALL:SHEET',
  units: 'm',
  extent: [-100_000, -100_000, 100_000, 100_000],
  getPointResolution: (resolution) => resolution,
})

// WGS 84: semi-major axis and flattening as defined (NIMA TR8350.2).
const A_M = 6_378_137
const E2 = (1 / 298.257223563) * (2 - 1 / 298.257223563)
const RAD_PER_DEG = Math.PI / 180

/** The plane that touches the ellipsoid at the pad; within 5 km it is true to better than 5 m. */
export class Ground {
  readonly #origin: LatLon
  readonly #mPerDegNorth: number
  readonly #mPerDegEast: number

  constructor(origin: LatLon) {
    const lat = origin.lat * RAD_PER_DEG
    const w2 = 1 - E2 * Math.sin(lat) ** 2
    this.#origin = origin
    this.#mPerDegNorth = ((A_M * (1 - E2)) / w2 ** 1.5) * RAD_PER_DEG
    this.#mPerDegEast = ((A_M * Math.cos(lat)) / Math.sqrt(w2)) * RAD_PER_DEG
  }

  /** Metres east and north of the pad. */
  place({ lat, lon }: LatLon): [number, number] {
    return [(lon - this.#origin.lon) * this.#mPerDegEast, (lat - this.#origin.lat) * this.#mPerDegNorth]
  }

  /** The place at metres east and north of the pad. */
  at([east_m = 0, north_m = 0]: readonly number[]): LatLon {
    return { lat: this.#origin.lat + north_m / this.#mPerDegNorth, lon: this.#origin.lon + east_m / this.#mPerDegEast }
  }

  /** A GeoJSON geometry on the sheet; null for null and for what is not a geometry. */
  geometry(geojson: unknown): Geometry | null {
    if (typeof geojson !== 'object' || geojson === null || !('type' in geojson)) return null
    try {
      const geometry = new GeoJSON().readGeometry(geojson)
      // GeoJSON has longitude first: this is the one place where the two are told apart.
      geometry?.applyTransform((input: number[], output?: number[], stride = 2) => {
        const out = output ?? input
        for (let i = 0; i + 1 < input.length; i += stride) {
          const [east_m, north_m] = this.place({ lon: input[i] ?? 0, lat: input[i + 1] ?? 0 })
          out[i] = east_m
          out[i + 1] = north_m
        }
        return out
      })
      return geometry
    } catch {
      return null
    }
  }
}

/** The northernmost corner of a geometry's extent on its own outline, where a label fits. */
export function northernmost(coordinates: Coordinate[]): Coordinate {
  let top: Coordinate = coordinates[0] ?? [0, 0]
  for (const at of coordinates) if ((at[1] ?? 0) > (top[1] ?? 0)) top = at
  return top
}

/** A line or an area through places, as GeoJSON writes it; null of too few. Longitude goes first, here and nowhere else. */
export function geometryOf(places: readonly LatLon[], isArea: boolean): { type: 'LineString' | 'Polygon'; coordinates: number[][] | number[][][] } | null {
  const positions = places.map(({ lat, lon }) => [lon, lat])
  const first = positions[0]
  if (!first || positions.length < (isArea ? 3 : 2)) return null
  return isArea ? { type: 'Polygon', coordinates: [[...positions, first]] } : { type: 'LineString', coordinates: positions }
}
