import type { Coordinate } from 'ol/coordinate'

/** Middle of an area and how far it reaches: the symmetric root of its second moments, as east, both, north. */
export interface Spread {
  middle: readonly [number, number]
  root: readonly [number, number, number]
}

/** Polygons as rings of coordinates, outer ring first. */
export type Rings = readonly (readonly Coordinate[])[]

/** Middle and reach of polygons, each point of them counting alike; null for nothing. */
export function spreadOf(polygons: readonly Rings[]): Spread | null {
  // The polygon formulas of Green's theorem, about the first corner.
  const [east0 = 0, north0 = 0] = polygons[0]?.[0]?.[0] ?? []
  const sum = { one: 0, e: 0, n: 0, ee: 0, en: 0, nn: 0 }
  for (const rings of polygons) {
    rings.forEach((ring, index) => {
      const own = { one: 0, e: 0, n: 0, ee: 0, en: 0, nn: 0 }
      ring.forEach(([a = 0, b = 0], i) => {
        const [c = 0, d = 0] = ring[(i + 1) % ring.length] ?? []
        const [e1, n1, e2, n2] = [a - east0, b - north0, c - east0, d - north0]
        const cross = e1 * n2 - e2 * n1
        own.one += cross / 2
        own.e += (cross * (e1 + e2)) / 6
        own.n += (cross * (n1 + n2)) / 6
        own.ee += (cross * (e1 * e1 + e1 * e2 + e2 * e2)) / 12
        own.nn += (cross * (n1 * n1 + n1 * n2 + n2 * n2)) / 12
        own.en += (cross * (2 * e1 * n1 + e1 * n2 + e2 * n1 + 2 * e2 * n2)) / 24
      })
      // Whichever way round they are drawn: the first ring is ground, the others are holes.
      const sign = Math.sign(own.one) * (index === 0 ? 1 : -1)
      for (const key of Object.keys(sum) as (keyof typeof sum)[]) sum[key] += sign * own[key]
    })
  }
  if (!(sum.one > 0)) return null
  const [e, n] = [sum.e / sum.one, sum.n / sum.one]
  const [ee, en, nn] = [sum.ee / sum.one - e * e, sum.en / sum.one - e * n, sum.nn / sum.one - n * n]
  // The root of a symmetric 2 x 2 matrix by Cayley and Hamilton.
  const det = Math.sqrt(Math.max(0, ee * nn - en * en))
  const trace = Math.sqrt(ee + nn + 2 * det)
  return { middle: [east0 + e, north0 + n], root: [(ee + det) / trace, en / trace, (nn + det) / trace] }
}

/** The spread on the way from one to another, `share` from 0 to 1. */
export function between(from: Spread, to: Spread, share: number): Spread {
  const mix = (a: number, b: number) => a + share * (b - a)
  return {
    middle: [mix(from.middle[0], to.middle[0]), mix(from.middle[1], to.middle[1])],
    root: [mix(from.root[0], to.root[0]), mix(from.root[1], to.root[1]), mix(from.root[2], to.root[2])],
  }
}

/** Carries points of an area over to another place and reach. */
export function carried(own: Spread, to: Spread): (at: Coordinate) => [number, number] {
  const [a, b, d] = own.root
  const det = a * d - b * b
  const [p, q, r] = to.root
  // to.root times the inverse of own.root
  const [ee, en, ne, nn] = [(p * d - q * b) / det, (q * a - p * b) / det, (q * d - r * b) / det, (r * a - q * b) / det]
  return ([east = 0, north = 0]) => {
    const [e, n] = [east - own.middle[0], north - own.middle[1]]
    return [to.middle[0] + ee * e + en * n, to.middle[1] + ne * e + nn * n]
  }
}
