import type { ComesDown, MayComeDown } from '../../lib/backend/calm'
import type { Field, LatLon } from '../../lib/backend/generated'
import type { Scene } from '../../lib/map/picture'
import { distance, joined, type Units } from '../../lib/units'
import { say } from '../../lib/words'
import { towardOf } from '../../parts/wind/feel'

/** How far from the pad, and which way, as a sentence. */
export function withinSaid({ within_m, toward_deg }: Pick<MayComeDown, 'within_m' | 'toward_deg'>, units: Units): string {
  const far = joined(distance(within_m, units))
  return toward_deg === null ? say('show.down_any', { far }) : say('show.down', { far, way: say(`toward.${towardOf(toward_deg)}`) })
}

/** The field with the areas of nine in ten; those before move to what they are now. */
export function sceneOf(pad: LatLon, field: Field | null, now: readonly ComesDown[], before: readonly ComesDown[] = []): Scene {
  const regions = (all: readonly ComesDown[]) => all.flatMap(({ areas }) => areas.map((geometry) => ({ probability: 0.9, area_m2: 0, geometry })))
  return { pad, field, places: { pad, found: [], said: null }, before: regions(before), after: regions(now), wholeField: true }
}
