import type { ComesDown, MayComeDown } from '../../lib/backend/calm'
import type { Field, LatLon } from '../../lib/backend/generated'
import type { Scene } from '../../lib/map/picture'
import { distance, joined, type Units } from '../../lib/units'
import { say } from '../../lib/words'
import { WINDS_DEG, type Toward } from '../../parts/wind/feel'

/** The nearest name of the compass for where something goes. */
export const wayOf = (toward_deg: number): Toward => (Object.keys(WINDS_DEG) as Toward[])[((Math.round(toward_deg / 45) % 8) + 8) % 8] ?? 'n'

/** How far from the pad, and which way, as a sentence. */
export function withinSaid({ within_m, toward_deg }: Pick<MayComeDown, 'within_m' | 'toward_deg'>, units: Units): string {
  const far = joined(distance(within_m, units))
  return toward_deg === null ? say('show.down_any', { far }) : say('show.down', { far, way: say(`toward.${wayOf(toward_deg)}`) })
}

/** The field with the areas of nine in ten; those before move to what they are now. */
export function sceneOf(pad: LatLon, field: Field | null, now: readonly ComesDown[], before: readonly ComesDown[] = []): Scene {
  const regions = (all: readonly ComesDown[]) => all.flatMap(({ areas }) => areas.map((geometry) => ({ probability: 0.9, area_m2: 0, geometry })))
  return { pad, field, places: { pad, found: [], said: null }, before: regions(before), after: regions(now), wholeField: true }
}
