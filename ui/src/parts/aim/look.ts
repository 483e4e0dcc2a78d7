import type { Evidence, LatLon, Moment, Sighting } from '../../lib/backend/generated'
import { thisPhone } from '../../lib/device/phone'

/** On which side of straight downwind it was seen. */
export const SIDES = { far_left: -70, left: -30, ahead: 0, right: 30, far_right: 70, upwind: 180 } as const
/** One of them. */
export type Side = keyof typeof SIDES

/** A fist at arm's length covers about so many degrees: common practice, no source. */
export const FIST_DEG = 10

/** Where somebody saw it, as they showed it. */
export interface Look {
  /** With the phone: degrees from magnetic north, and above the horizon. */
  pointed: { bearing_deg: number | null; elevation_deg: number } | null
  /** Without a compass. */
  side: Side | null
  mark: LatLon | null
  /** On the far side of the mark, or on this side of it; null if nobody said. */
  beyond: boolean | null
  fists: number | null
}

/** Nothing shown yet. */
export const NO_LOOK: Look = { pointed: null, side: null, mark: null, beyond: null, fists: null }

/** Whether a look says which way. */
export const hasWay = (look: Look): boolean => look.pointed !== null || look.side !== null || look.mark !== null

/** In line with a place on the map; on which side of it nobody has said yet. */
export const markedAt = (look: Look, mark: LatLon): Look => ({ ...look, pointed: null, side: null, mark, beyond: null })

/** What a sighting shows, as it was shown; nothing of what nobody shows here. */
export function lookOf({ method, bearing_deg, elevation_deg, downwind_deg, in_line_with, beyond }: Sighting): Look {
  if (method === 'phone') return elevation_deg === null || elevation_deg === undefined ? NO_LOOK : { ...NO_LOOK, pointed: { bearing_deg: bearing_deg ?? null, elevation_deg } }
  const side = (Object.keys(SIDES) as Side[]).find((it) => SIDES[it] === downwind_deg) ?? null
  const fists = typeof elevation_deg === 'number' ? Math.round(elevation_deg / FIST_DEG) : null
  return { ...NO_LOOK, side, mark: in_line_with ?? null, beyond: beyond ?? null, fists }
}

/** The look as a piece of evidence; null if nothing was shown. */
export function sightingOf(look: Look, moment: Moment, from: LatLon | null, t_s: number | null): Evidence | null {
  const piece = {
    kind: 'sighting' as const,
    moment,
    t_s,
    north: 'true' as const,
    from: from && { lat: from.lat, lon: from.lon },
    set_aside: false,
  }
  if (look.pointed) {
    const { bearing_deg, elevation_deg } = look.pointed
    return { ...piece, bearing_deg, elevation_deg, north: 'magnetic', method: 'phone', phone: thisPhone() }
  }
  const elevation_deg = look.fists === null ? null : look.fists * FIST_DEG
  if (look.mark) return { ...piece, in_line_with: { lat: look.mark.lat, lon: look.mark.lon }, beyond: look.beyond, elevation_deg, method: 'line' }
  if (look.side) return { ...piece, downwind_deg: SIDES[look.side], elevation_deg, method: 'eye' }
  return elevation_deg === null && t_s === null ? null : { ...piece, elevation_deg, method: 'eye' }
}
