import type { Loaded } from '../../lib/backend/calm'
import { say } from '../../lib/words'

/** How a rocket of the load flies today, short: its motors, what it comes down on, the lean of its rod. */
export function loadOf({ motor, lower_motor, comes_down_on, tilt_deg }: Loaded): string {
  const lean = tilt_deg === null || tilt_deg === 0 ? null : say('load.lean', { lean: say('lean.by', { degrees: tilt_deg }) })
  return [motor, lower_motor === null ? null : say('rocket.two_stages', { motor: lower_motor }), say(`device.${comes_down_on}`), lean].filter((said) => said).join(' · ')
}
