import type { Loaded } from '../../lib/backend/calm'
import { say } from '../../lib/words'
import { towardOf } from '../wind/feel'

/** A lean of the rod: how far, and which way. */
export function leanOf(tilt_deg: number, toward_deg: number | null): string {
  if (tilt_deg === 0) return say('lean.upright')
  return toward_deg === null ? say('lean.by', { degrees: tilt_deg }) : say('lean.by_way', { degrees: tilt_deg, way: say(`toward.${towardOf(toward_deg)}`) })
}

/** How a rocket of the load flies today, short: its motors, what it comes down on, the lean of its rod. */
export function loadOf({ motor, lower_motor, comes_down_on, tilt_deg, lean_toward_deg }: Loaded): string {
  const lean = tilt_deg === null || tilt_deg === 0 ? null : say('load.lean', { lean: leanOf(tilt_deg, lean_toward_deg) })
  return [motor, lower_motor === null ? null : say('rocket.two_stages', { motor: lower_motor }), say(`device.${comes_down_on}`), lean].filter((said) => said).join(' · ')
}
