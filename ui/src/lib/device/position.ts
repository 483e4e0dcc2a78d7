import type { LatLon } from '../backend/generated'

/** Where the device is, as well as it knows. */
export interface Fix extends LatLon {
  /** Radius that holds the place, metres, as the device states it. */
  accuracy_m: number
  /** Course over ground, degrees from true north; null while it stands. */
  course_deg?: number | null
  /** Speed over ground, metres per second. */
  speed_mps?: number | null
  /** When, milliseconds of the device's own clock. */
  at_ms?: number
}

/** Why there is no fix. */
export class NoFix extends Error {
  override name = 'NoFix'
  readonly why: 'denied' | 'unavailable' | 'timeout' | 'no_gpsd'

  constructor(why: NoFix['why']) {
    super(why)
    this.why = why
  }
}

/** What is asked of a position receiver. */
export interface PositionReceiver {
  /** Once. Rejects with {@link NoFix}. */
  fix(): Promise<Fix>
  /** Once, where that asks nothing of the flyer; null where leave was not given yet, or there is none. */
  known(): Promise<Fix | null>
  /** Fixes as they come, and why there are none; returns what ends it. */
  watch(onfix: (fix: Fix) => void, onnone?: (why: NoFix) => void): () => void
}

const noFix = ({ code }: { code: number }) =>
  new NoFix(code === 1 ? 'denied' : code === 3 ? 'timeout' : 'unavailable')

function fixOf({ coords, timestamp }: GeolocationPosition): Fix {
  return {
    lat: coords.latitude,
    lon: coords.longitude,
    accuracy_m: coords.accuracy,
    course_deg: Number.isFinite(coords.heading) ? coords.heading : null,
    speed_mps: coords.speed,
    at_ms: timestamp,
  }
}

/** The receiver that the browser or the web view offers. */
export function deviceReceiver(geolocation: Geolocation | undefined, permissions?: Permissions): PositionReceiver {
  const how = { enableHighAccuracy: true, timeout: 20_000, maximumAge: 5_000 }
  // A web view may answer "prompt" for ever, or be without anything that can be asked: a fix that came is leave all the
  // same, until a no comes.
  let isGiven = false
  const came = (position: GeolocationPosition) => {
    isGiven = true
    return fixOf(position)
  }
  const stayedOut = (error: GeolocationPositionError) => {
    if (error.code === 1) isGiven = false
    return noFix(error)
  }
  const fix = () =>
    new Promise<Fix>((resolve, reject) => {
      if (!geolocation) {
        reject(new NoFix('unavailable'))
        return
      }
      geolocation.getCurrentPosition(
        (position) => {
          resolve(came(position))
        },
        (error) => {
          reject(stayedOut(error))
        },
        how,
      )
    })
  return {
    fix,
    known: async () => {
      // Asked first in any case: a screen that goes has let go of the receiver by then. Chromium answers nobody who asks
      // beside another until the place changes.
      const leave = await permissions?.query({ name: 'geolocation' }).catch(() => null)
      return isGiven || leave?.state === 'granted' ? fix().catch(() => null) : null
    },
    watch: (onfix, onnone) => {
      if (!geolocation) {
        onnone?.(new NoFix('unavailable'))
        return () => undefined
      }
      const id = geolocation.watchPosition(
        (position) => {
          onfix(came(position))
        },
        (error) => {
          const none = stayedOut(error)
          onnone?.(none)
        },
        { ...how, maximumAge: 0 },
      )
      return () => {
        geolocation.clearWatch(id)
      }
    },
  }
}

/** Asked for once more after this, s: a receiver that has a position, and one that has none. */
const AGAIN_S = { placed: 0.2, placeless: 3 }

/** The receiver of a computer: what its gpsd says, through the core. `ask` gives null if that knows no position yet. */
export function coreReceiver(ask: () => Promise<Fix | null>, now_ms = () => Date.now()): PositionReceiver {
  const fix = async (): Promise<Fix> => {
    const got = await ask().catch(() => {
      throw new NoFix('no_gpsd')
    })
    if (!got) throw new NoFix('timeout')
    return { ...got, at_ms: now_ms() }
  }
  return {
    fix,
    known: () => fix().catch(() => null),
    watch: (onfix, onnone) => {
      let waiting: ReturnType<typeof setTimeout> | undefined
      let ended = false
      const again = async () => {
        let wait_s = AGAIN_S.placed
        try {
          const got = await fix()
          if (!ended) onfix(got)
        } catch (thrown) {
          wait_s = AGAIN_S.placeless
          if (!ended && thrown instanceof NoFix) onnone?.(thrown)
        }
        if (!ended) waiting = setTimeout(() => void again(), wait_s * 1000)
      }
      void again()
      return () => {
        ended = true
        clearTimeout(waiting)
      }
    },
  }
}

/** The first of two receivers, and the second as long as the first cannot tell, or may not. */
export function orElse(first: PositionReceiver, second: PositionReceiver): PositionReceiver {
  const cannot = (none: unknown) => none instanceof NoFix && none.why !== 'timeout'
  return {
    fix: () => first.fix().catch((none: unknown) => (cannot(none) ? second.fix() : Promise.reject(none as Error))),
    known: async () => (await first.known()) ?? second.known(),
    watch: (onfix, onnone) => {
      let end: (() => void) | null = null
      const told = (fix: Fix) => {
        end?.()
        end = null
        onfix(fix)
      }
      const ofFirst = first.watch(told, (none) => {
        if (cannot(none)) end ??= second.watch(onfix, onnone)
        else onnone?.(none)
      })
      return () => {
        ofFirst()
        end?.()
      }
    },
  }
}

/** A receiver that gives what it is told. */
export function fakeReceiver(answer: Fix | NoFix): PositionReceiver & { move(to: Fix): void } {
  let now = answer
  let told: ((fix: Fix) => void) | null = null
  return {
    fix: () => (now instanceof NoFix ? Promise.reject(now) : Promise.resolve(now)),
    known: () => Promise.resolve(now instanceof NoFix ? null : now),
    watch: (onfix, onnone) => {
      told = onfix
      if (now instanceof NoFix) onnone?.(now)
      else onfix(now)
      return () => {
        told = null
      }
    },
    move: (to) => {
      now = to
      told?.(to)
    },
  }
}
