import type { WindReading } from '../../lib/backend/generated'

/** Where it blows to, by names of the compass, degrees from true north. */
export const WINDS_DEG = { n: 0, ne: 45, e: 90, se: 135, s: 180, sw: 225, w: 270, nw: 315 } as const
/** One of them. */
export type Toward = keyof typeof WINDS_DEG

/** The name of a direction, degrees from true north. */
export function towardOf(degrees: number): Toward {
  const names = Object.keys(WINDS_DEG) as Toward[]
  return names[Math.round((((degrees % 360) + 360) % 360) / 45) % 8] ?? 'n'
}

/**
 * How strong it is by what it moves: middle of the Beaufort class, m/s, v = 0.836 B^1.5 (held against
 * tests/reference/wmo/wind_beaufort.csv by a test).
 */
export const BEAUFORT_MPS = { b0: 0.1, b1: 0.84, b2: 2.36, b3: 4.34, b4: 6.69, b5: 9.35 } as const
/** One of them. */
export type Strength = keyof typeof BEAUFORT_MPS

/** Height that the Beaufort speeds are meant for, m. */
export const BEAUFORT_HEIGHT_M = 10

/** The wind by feel as a reading of the moment `at`; null if nothing was said. */
export function feltWind(toward: Toward | null, strength: Strength | null, at: string | null): WindReading | null {
  if (toward === null && strength === null) return null
  return {
    at,
    height_m: BEAUFORT_HEIGHT_M,
    speed_mps: strength === null ? null : BEAUFORT_MPS[strength],
    from_deg: toward === null ? null : (WINDS_DEG[toward] + 180) % 360,
    north: 'true',
    method: 'feel',
  }
}
