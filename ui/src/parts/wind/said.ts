import { say } from '../../lib/words'
import type { Strength, Toward } from './feel'

/** The wind as it was told by feel, short; null if nothing was said. */
export function windSaid(toward: Toward | null, strength: Strength | null): string | null {
  const said = [toward && say('wind.to', { way: say(`toward.${toward}`), wind: say(`blows.${toward}`) }), strength && say(`strength.${strength}`)]
  return said.filter((it) => it).join(' · ') || null
}
