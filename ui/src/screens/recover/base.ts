import type { LatLon } from '../../lib/backend/generated'

/** Where the way back leads, kept on this device: the car, the tent, the club's table. */
export interface BaseKeep {
  read(): LatLon | null
  write(base: LatLon): void
}

const KEY = 'windfall.base'
/** A base of another day is none. */
const OLDEST_MS = 16 * 3_600_000

/** Kept on this device. */
export const deviceBase: BaseKeep = {
  read: () => {
    try {
      const kept: unknown = JSON.parse(localStorage.getItem(KEY) ?? 'null')
      if (typeof kept !== 'object' || kept === null || !('lat' in kept) || !('lon' in kept) || !('at' in kept)) return null
      const { lat, lon, at } = kept as { lat: number; lon: number; at: number }
      return Date.now() - at < OLDEST_MS && Number.isFinite(lat) && Number.isFinite(lon) ? { lat, lon } : null
    } catch {
      return null
    }
  },
  write: ({ lat, lon }) => {
    try {
      localStorage.setItem(KEY, JSON.stringify({ lat, lon, at: Date.now() }))
    } catch {
      // A device that keeps nothing knows it until it is closed.
    }
  },
}

/** A base that only remembers. */
export function fakeBase(base: LatLon | null = null): BaseKeep {
  let now = base
  return {
    read: () => now,
    write: (to) => (now = to),
  }
}
