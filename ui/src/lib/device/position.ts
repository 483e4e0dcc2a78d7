import type { LatLon } from '../backend/generated'

/** Where the device is, as well as it knows. */
export interface Fix extends LatLon {
  /** Radius that holds the place, metres, as the device states it. */
  accuracy_m: number
}

/** Why there is no fix. */
export class NoFix extends Error {
  override name = 'NoFix'
  readonly why: 'denied' | 'unavailable' | 'timeout'

  constructor(why: NoFix['why']) {
    super(why)
    this.why = why
  }
}

/** The one question asked of a position receiver. Rejects with {@link NoFix}. */
export interface PositionReceiver {
  fix(): Promise<Fix>
}

/** The receiver that the browser or the web view offers. */
export function deviceReceiver(geolocation: Geolocation | undefined): PositionReceiver {
  return {
    fix: () =>
      new Promise((resolve, reject) => {
        if (!geolocation) {
          reject(new NoFix('unavailable'))
          return
        }
        geolocation.getCurrentPosition(
          ({ coords }) => {
            resolve({ lat: coords.latitude, lon: coords.longitude, accuracy_m: coords.accuracy })
          },
          ({ code }) => {
            reject(new NoFix(code === 1 ? 'denied' : code === 3 ? 'timeout' : 'unavailable'))
          },
          { enableHighAccuracy: true, timeout: 20_000, maximumAge: 5_000 },
        )
      }),
  }
}

/** A receiver that gives what it is told. */
export function fakeReceiver(answer: Fix | NoFix): PositionReceiver {
  return { fix: () => (answer instanceof NoFix ? Promise.reject(answer) : Promise.resolve(answer)) }
}
