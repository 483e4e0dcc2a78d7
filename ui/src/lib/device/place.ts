import type { LatLon } from '../backend/generated'
import type { Fix, NoFix, PositionReceiver } from './position'

/** Mean radius of the earth (IUGG), m: good to 0.3 %, for telling near from far and nothing else. */
const EARTH_M = 6_371_009
const RAD = Math.PI / 180

/** Metres between two places a walk apart. */
export function apart_m(a: LatLon, b: LatLon): number {
  const north = (b.lat - a.lat) * RAD
  const east = (((b.lon - a.lon + 540) % 360) - 180) * RAD * Math.cos(((a.lat + b.lat) / 2) * RAD)
  return EARTH_M * Math.hypot(north, east)
}

/** Faster than anybody runs over a field, m/s. Judgement. */
const FASTEST_MPS = 9
/** After so many refused fixes in a row it was the place before them that was wrong. Judgement. */
const MOST_REFUSED = 4

/** Refuses fixes that nobody could have walked to. */
export class Steady {
  #last: Fix | null = null
  #refused = 0

  /** The fix, or null for a jump. */
  takes(fix: Fix): Fix | null {
    const last = this.#last
    if (last && this.#refused < MOST_REFUSED) {
      const elapsed_s = Math.max(0, ((fix.at_ms ?? 0) - (last.at_ms ?? 0)) / 1000)
      const reach_m = FASTEST_MPS * elapsed_s + last.accuracy_m + fix.accuracy_m
      if (!(apart_m(last, fix) <= reach_m)) {
        this.#refused++
        return null
      }
    }
    this.#last = fix
    this.#refused = 0
    return fix
  }
}

/**
 * The mean of fixes taken on one spot, each weighted by its accuracy.
 *
 * The errors of fixes seconds apart are nearly the same error, so the radius shrinks with the minutes, not with the
 * fixes: as if a new one came every {@link FRESH_S}. It never falls below a third of the best single fix, and grows where
 * later fixes lie elsewhere than earlier ones. Fixes that the newest one has left behind no longer count. Judgement.
 */
export class Averaged {
  #fixes: Fix[] = []

  add(fix: Fix): void {
    const left = (it: Fix) => apart_m(it, fix) > LEFT_BEHIND * (it.accuracy_m + fix.accuracy_m)
    this.#fixes = [...this.#fixes.slice(this.#fixes.findLastIndex(left) + 1), fix]
  }

  get count(): number {
    return this.#fixes.length
  }

  /** Null before the first fix. */
  get fix(): Fix | null {
    const first = this.#fixes[0]
    const last = this.#fixes.at(-1)
    if (!first || !last) return null
    const half = Math.ceil(this.#fixes.length / 2)
    const drift_m = apart_m(mean(this.#fixes.slice(0, half), first), mean(this.#fixes.slice(-half), first)) / 2
    const best_m = Math.min(...this.#fixes.map((it) => it.accuracy_m))
    const held_s = Math.max(0, ((last.at_ms ?? 0) - (first.at_ms ?? 0)) / 1000)
    const independent = Math.min(this.#fixes.length, 1 + held_s / FRESH_S)
    const radius_m = Math.max(best_m / 3, best_m / Math.sqrt(independent))
    return { ...mean(this.#fixes, first), accuracy_m: Math.hypot(radius_m, drift_m), at_ms: last.at_ms ?? 0 }
  }
}

/** Each weighted by its accuracy, about the first of them. */
function mean(fixes: readonly Fix[], about: LatLon): LatLon {
  let [weights, north, east] = [0, 0, 0]
  for (const { lat, lon, accuracy_m } of fixes) {
    const weight = 1 / Math.max(1, accuracy_m) ** 2
    weights += weight
    north += weight * (lat - about.lat)
    east += weight * (((lon - about.lon + 540) % 360) - 180)
  }
  return { lat: about.lat + north / weights, lon: about.lon + east / weights }
}

/** A fix is left behind from so many times both accuracies. Judgement. */
const LEFT_BEHIND = 1.5

/**
 * Watches where one stands: the averaged place, and the fix that it rests on last. Jumps are refused. Returns what ends it.
 */
export function watchSpot(receiver: PositionReceiver, onspot: (spot: Fix, taken: Fix) => void, onnone?: (why: NoFix) => void): () => void {
  const steady = new Steady()
  const spot = new Averaged()
  return receiver.watch((fix) => {
    const taken = steady.takes(fix)
    if (!taken) return
    spot.add(taken)
    onspot(spot.fix ?? taken, taken)
  }, onnone)
}

/** Until the error of a receiver that stands has become another, s. Judgement. */
const FRESH_S = 10
