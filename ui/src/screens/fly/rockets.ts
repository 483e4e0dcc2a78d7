import type { Backend } from '../../lib/backend'
import type { Loaded } from '../../lib/backend/calm'
import type { Flight } from '../../lib/backend/generated'

/** A rocket of an earlier flight, ready to fly again. */
export interface Ready {
  /** Of the fleet. */
  id?: string
  name: string
  flight: Flight
  /** Whether the pad of the flight is known; else it starts where the flyer stands. */
  hasPad: boolean
  /** As it is loaded today, if it is of the fleet. */
  loaded?: Loaded
}

/** So many rockets of earlier flights are offered. */
const MOST = 6

/** Rockets of the fleet as they would fly now; none without a logbook. */
async function fleet(backend: Backend): Promise<Ready[]> {
  try {
    return (await backend.readyFlights()).map(({ rocket, name, flight, has_pad, loaded }) => ({ id: rocket, name, flight, hasPad: has_pad, loaded }))
  } catch {
    return []
  }
}

/** Rockets of earlier flights, as they flew last, the latest first. */
async function flown(backend: Backend): Promise<Ready[]> {
  const known = (await backend.listFlights()).filter((it) => !it.error && it.rocket)
  const last = known.filter((it, at, all) => all.findIndex((other) => other.rocket === it.rocket) === at)
  return Promise.all(last.slice(0, MOST).map(async ({ rocket, id }) => ({ name: rocket, flight: await backend.showFlight(id), hasPad: true })))
}

/** The flyer's own, those of earlier flights, and both: what is known of the fleet and of today comes first. */
export async function atHand(backend: Backend): Promise<{ own: Ready[]; flown: Ready[]; all: Ready[] }> {
  const own = await fleet(backend)
  const earlier = await flown(backend).catch(() => [])
  return { own, flown: earlier, all: [...own, ...earlier.filter((it) => !own.some(({ name }) => name === it.name))] }
}
