import type { LatLon } from '../../lib/backend/generated'

/** What a walk knows of its day, kept on this device. Where the way back leads: the car, the tent, the club's table. */
export interface BaseKeep {
  read(): LatLon | null
  write(base: LatLon): void
  /** Whether somebody said that it is hot. */
  hot(): boolean
  sayHot(isHot: boolean): void
}

const KEY = 'windfall.base'
const HOT_KEY = 'windfall.hot'
/** What was said on another day no longer holds. */
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
  hot: () => {
    try {
      return Date.now() - Number(localStorage.getItem(HOT_KEY) ?? 0) < OLDEST_MS
    } catch {
      return false
    }
  },
  sayHot: (isHot) => {
    try {
      if (isHot) localStorage.setItem(HOT_KEY, String(Date.now()))
      else localStorage.removeItem(HOT_KEY)
    } catch {
      // The walk itself knows it.
    }
  },
}

/** A base that only remembers. */
export function fakeBase(base: LatLon | null = null): BaseKeep {
  let now = base
  let isHot = false
  return {
    read: () => now,
    write: (to) => (now = to),
    hot: () => isHot,
    sayHot: (it) => (isHot = it),
  }
}
